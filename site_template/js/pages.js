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

  kit.onArrive(function (part) {
    var ticks = Array.prototype.slice.call(part.querySelectorAll("[data-tick]"));
    if (!ticks.length) return;
    var marks = kit.marks();
    var byPage = {};
    ticks.forEach(function (node) {
      addBox(node, marks);
      (byPage[listOf(node)] = byPage[listOf(node)] || []).push(node);
    });
    Object.keys(byPage).forEach(function (page) { addClear(page, byPage[page]); });
  });

  /* ------------------------------------------------------------------------------- cover as it stands */
  function names(data, items) {
    return items.map(function (i) { return data.items[i] ? data.items[i].name : i; }).join(", ");
  }

  function sayCover(part, data, cover) {
    part.querySelectorAll("[data-cover]").forEach(function (node) {
      var repair = data.repairs[node.dataset.cover];
      if (!repair) return;
      node.textContent = "";
      var groups = {};
      kit.vehiclesOf(data, repair).forEach(function (v) {
        var lacks = cover.lacks[node.dataset.cover + "|" + v];
        var state = cover.out.indexOf(v) >= 0 ? "out" : names(data, lacks);
        (groups[state] = groups[state] || []).push(data.vehicles[v].name);
      });
      Object.keys(groups).forEach(function (state, n) {
        var text = (n ? "; " : "") + groups[state].join(", ") + ": ";
        if (state === "out" || !state) text += state || "covered";
        node.appendChild(document.createTextNode(text));
        if (state && state !== "out") {
          node.appendChild(make("b", { class: "not", text: "not covered now" }));
          node.appendChild(document.createTextNode(", lacks " + state));
        }
      });
    });
    var lostBy = {};
    cover.lost.forEach(function (x) {
      var number = data.repairs[x.repair].number;
      (lostBy[number] = lostBy[number] || []).push(x);
    });
    part.querySelectorAll("[data-repair]").forEach(function (node) {
      var old = node.querySelector(".now-lost");
      if (old) old.remove();
      var lost = lostBy[node.dataset.repair] || [];
      if (!lost.length) return;
      var text = " Since marked: not covered on " + lost.map(function (x) { return data.vehicles[x.vehicle].name; }).join(", ") + ", lacks " + names(data, lost[0].lacks) + ".";
      node.appendChild(make("b", { class: "now-lost not", text: text }));
    });
    part.querySelectorAll(".gear [data-item], .ticks [data-item]").forEach(function (node) {
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

  var reckoned = { asked: "", cover: null };

  function refresh(part) {
    var marks = kit.marks();
    if (!part.querySelector("[data-cover], [data-repair], .gear, .ticks [data-item]")) return;
    if (!marks.stock.length && !marks.vehicles_out.length && !kit.coverShown) return;
    kit.coverShown = true;
    kit.data("stock", function (data) {
      var asked = JSON.stringify([marks.stock, marks.vehicles_out]);
      if (asked !== reckoned.asked) reckoned = { asked: asked, cover: kit.coverNow(data, marks) };
      sayCover(part, data, reckoned.cover);
    });
  }
  document.addEventListener("fieldkit-marks", function () { refresh(document); });
  kit.onArrive(refresh);
  if (!kit.kept) kit.notKept();

  /* ------------------------------------------------------------------------------- print */
  window.addEventListener("beforeprint", function () {
    document.querySelectorAll("details:not([open])").forEach(function (d) { d.open = true; d.dataset.closed = "1"; });
  });
  window.addEventListener("afterprint", function () {
    document.querySelectorAll("details[data-closed]").forEach(function (d) { d.open = false; delete d.dataset.closed; });
  });
})();
