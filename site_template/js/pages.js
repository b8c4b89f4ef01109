/* What every page gains where scripts run: ticks that stay, and cover as it stands now. */
(function () {
  "use strict";
  var kit = window.fieldkit;
  var make = kit.make;

  /* ------------------------------------------------------------------------------- ticks */
  function listOf(node) {
    var sheet = node.closest("[data-page]");
    return sheet ? sheet.dataset.page : "";
  }

  function addBox(node, marks) {
    var list = listOf(node);
    var item = node.dataset.tick;
    var done = Boolean(marks.ticks[list] && marks.ticks[list][item]);
    var box = make("input", { type: "checkbox" });
    box.checked = done;
    box.addEventListener("change", function () {
      kit.change(function (m) {
        m.ticks[list] = m.ticks[list] || {};
        if (box.checked) m.ticks[list][item] = kit.now();
        else delete m.ticks[list][item];
      });
      kit.notKept();
    });
    var label = make("label", {});
    while (node.firstChild) label.appendChild(node.firstChild);
    label.insertBefore(box, label.firstChild);
    node.appendChild(label);
    node.classList.add("has-box");
  }

  function addClear(page, nodes) {
    var button = make("button", { type: "button", class: "act", text: "Clear the ticks of this list", on: { click: function () {
      kit.change(function (m) { delete m.ticks[page]; });
      nodes.forEach(function (n) { n.querySelector("input").checked = false; });
    } } });
    var last = nodes[nodes.length - 1];
    var place = last.closest("section, article, main, .onesheet") || last.parentNode;
    place.appendChild(make("p", { class: "no-print" }, [button]));
  }

  var ticks = Array.prototype.slice.call(document.querySelectorAll("[data-tick]"));
  if (ticks.length) {
    var marks = kit.marks();
    var byPage = {};
    ticks.forEach(function (node) {
      addBox(node, marks);
      (byPage[listOf(node)] = byPage[listOf(node)] || []).push(node);
    });
    Object.keys(byPage).forEach(function (page) { addClear(page, byPage[page]); });
  }

  /* ------------------------------------------------------------------------------- cover as it stands */
  function names(data, items) {
    return items.map(function (i) { return data.items[i] ? data.items[i].name : i; }).join(", ");
  }

  function sayCover(data, cover) {
    document.querySelectorAll("[data-cover]").forEach(function (node) {
      var repair = data.repairs[node.dataset.cover];
      if (!repair) return;
      node.textContent = "";
      repair.vehicles.forEach(function (v, n) {
        var lacks = cover.lacks[node.dataset.cover + "|" + v];
        var text = data.vehicles[v].name + ": ";
        if (cover.out.indexOf(v) >= 0) text += "out";
        else text += lacks.length ? "" : "covered";
        node.appendChild(document.createTextNode((n ? "; " : "") + text));
        if (lacks.length && cover.out.indexOf(v) < 0) {
          node.appendChild(make("b", { class: "not", text: "not covered now" }));
          node.appendChild(document.createTextNode(", lacks " + names(data, lacks)));
        }
      });
    });
    document.querySelectorAll("[data-repair]").forEach(function (node) {
      var old = node.querySelector(".now-lost");
      if (old) old.remove();
      var lost = cover.lost.filter(function (x) { return x.repair === node.dataset.repair; });
      if (!lost.length) return;
      var text = " Since marked: not covered on " + lost.map(function (x) { return data.vehicles[x.vehicle].name; }).join(", ") + ", lacks " + names(data, lost[0].lacks) + ".";
      node.appendChild(make("b", { class: "now-lost not", text: text }));
    });
    document.querySelectorAll(".gear [data-item], .ticks [data-item]").forEach(function (node) {
      var old = node.querySelector(".now-left");
      if (old) old.remove();
      var item = node.dataset.item;
      if (!(item in cover.stock)) return;
      var start = data.lines.reduce(function (sum, l) { return sum + (l.item === item ? l.quantity : 0); }, 0);
      if (cover.stock[item] >= start) return;
      var text = cover.stock[item] > 0 ? " Left now: " + cover.stock[item] + " of " + start + "." : " None left now.";
      node.appendChild(make("b", { class: "now-left", text: text }));
    });
  }

  kit.refreshCover = function () {
    var marks = kit.marks();
    if (!document.querySelector("[data-cover], [data-repair], .gear, .ticks [data-item]")) return;
    if (!marks.stock.length && !marks.vehicles_out.length && !kit.coverShown) return;
    kit.coverShown = true;
    kit.data("stock", function (data) { sayCover(data, kit.coverNow(data, marks)); });
  };
  document.addEventListener("fieldkit-marks", kit.refreshCover);
  kit.refreshCover();
  if (!kit.kept) kit.notKept();

  /* ------------------------------------------------------------------------------- print */
  window.addEventListener("beforeprint", function () {
    document.querySelectorAll("details:not([open])").forEach(function (d) { d.open = true; d.dataset.closed = "1"; });
  });
  window.addEventListener("afterprint", function () {
    document.querySelectorAll("details[data-closed]").forEach(function (d) { d.open = false; delete d.dataset.closed; });
  });
})();
