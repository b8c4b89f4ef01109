/* Stock as it changes: marks on the lines, and at once what they mean. */
(function () {
  "use strict";
  var kit = window.fieldkit;
  var make = kit.make;
  var place = document.querySelector("[data-stock]");
  if (!place) return;
  var WAYS = [["used", "Used up"], ["lost", "Lost"], ["lent", "Lent to"], ["left", "Left with"], ["back", "Back where it was"]];

  function names(data, items) {
    return items.map(function (i) { return data.items[i].name; }).join(", ");
  }

  /* Items of "item|vehicles that it suits". */
  function kinds(data, found) {
    return found.map(function (kind) {
      var parts = kind.split("|");
      var meant = parts[1] ? parts[1].split(" ").map(function (v) { return data.vehicles[v] ? data.vehicles[v].name : v; }).join(", ") : "";
      return data.items[parts[0]].name + (meant ? " for " + meant : "");
    }).join(", ");
  }

  function section(title, children) {
    return make("div", { class: "result" }, [make("h3", { text: title })].concat(children));
  }

  function summary(data) {
    var marks = kit.marks();
    var box = make("div", {});
    var changed = marks.stock.length || marks.vehicles_out.length;
    if (!changed) {
      box.appendChild(make("p", { text: "Nothing is marked yet. All is as packed." }));
      return box;
    }
    var cover = kit.coverNow(data, marks);
    box.appendChild(section("No longer covered", [cover.lost.length ? make("ul", {}, lostLines(data, cover)) : make("p", { text: "Every repair that was covered still is." })]));
    if (cover.onlyOne.length) box.appendChild(section("Now the only one", [make("p", { text: kinds(data, cover.onlyOne) })]));
    if (cover.none.length) box.appendChild(section("None left", [make("p", { text: kinds(data, cover.none) })]));
    if (cover.out.length) box.appendChild(section("Without " + cover.out.map(function (v) { return data.vehicles[v].name; }).join(", "), [make("ul", {}, aboard(data, cover))]));
    var lent = marks.stock.filter(function (m) { return m.what === "lent" || m.what === "left"; });
    if (lent.length) box.appendChild(section("Lent and left", [register(data, marks)]));
    return box;
  }

  function lostLines(data, cover) {
    return cover.lost.map(function (x) {
      var repair = data.repairs[x.repair];
      return make("li", {}, [make("a", { href: kit.href("repairs/" + x.repair), text: repair.title + " (repair " + repair.number + ")" }), " on " + data.vehicles[x.vehicle].name + ": lacks " + names(data, x.lacks)]);
    });
  }

  function aboard(data, cover) {
    var lines = [cover.seats < cover.people
      ? "Seats with belts: " + cover.seats + " for " + cover.people + " people. " + (cover.people - cover.seats) + " too few: nobody rides without one."
      : "Seats with belts: " + cover.seats + " for " + cover.people + " people."];
    var perDay = data.waterPerDay * cover.people;
    lines.push("Drinking water in tanks and cans: " + cover.water.toFixed(0) + " L" + (perDay > 0 ? ", for " + (cover.water / perDay).toFixed(1) + " days at " + data.waterPerDay.toFixed(1) + " L a person." : "."));
    Object.keys(cover.fuel).sort().forEach(function (kind) {
      if (cover.fuel[kind] > 0) lines.push("Tanks for " + kind + ": " + cover.fuel[kind].toFixed(0) + " L when full.");
    });
    lines.push("Load left on the others: " + Object.keys(data.vehicles).sort().filter(function (v) { return cover.out.indexOf(v) < 0; }).map(function (v) { return data.vehicles[v].name + " " + data.vehicles[v].payloadLeft.toFixed(0) + " kg"; }).join(", ") + ".");
    return lines.map(function (t) { return make("li", { text: t }); });
  }

  function register(data, marks) {
    return make("ul", {}, marks.stock.filter(function (m) { return m.what === "lent" || m.what === "left"; }).map(function (m) {
      var to = data.vehicles[m.to] ? data.vehicles[m.to].name : m.to || "nobody named";
      return make("li", { text: m.quantity + " × " + (data.items[m.item] ? data.items[m.item].name : m.item) + (m.what === "lent" ? " lent to " : " left with ") + to + ", " + String(m.at || "").slice(0, 10) });
    }));
  }

  function vehiclesOut(data, redraw) {
    var box = make("fieldset", {}, [make("legend", { text: "Vehicles that have dropped out" })]);
    Object.keys(data.vehicles).forEach(function (v) {
      var mine = kit.marks().vehicles_out.filter(function (o) { return o.vehicle === v; })[0];
      var out = make("input", { type: "checkbox" });
      out.checked = Boolean(mine);
      var moved = make("input", { type: "checkbox" });
      moved.checked = Boolean(mine && mine.kit_moved);
      function save() {
        kit.change(function (m) {
          m.vehicles_out = m.vehicles_out.filter(function (o) { return o.vehicle !== v; });
          if (out.checked) m.vehicles_out.push({ vehicle: v, kit_moved: moved.checked, at: kit.now() });
        });
        redraw();
      }
      out.addEventListener("change", save);
      moved.addEventListener("change", save);
      box.appendChild(make("div", { class: "choice" }, [make("label", { class: "choice" }, [out, data.vehicles[v].name + " is out"]), make("label", { class: "choice" }, [moved, "its kit was moved to the others"])]));
    });
    return make("div", { class: "picker" }, [box]);
  }

  function panel(data, row, close) {
    var line = row.dataset;
    var way = make("select", { "aria-label": "What happened to it" }, WAYS.map(function (w) { return make("option", { value: w[0], text: w[1] }); }));
    var many = make("input", { type: "number", min: "0.1", step: "0.1", value: "1", "aria-label": "How many packs" });
    var to = make("select", { "aria-label": "To whom" }, Object.keys(data.vehicles).map(function (v) { return make("option", { value: v, text: data.vehicles[v].name }); }).concat([make("option", { value: "", text: "somebody outside the convoy" })]));
    var who = make("input", { type: "text", "aria-label": "Name, if outside the convoy", placeholder: "name" });
    function fit() {
      var away = way.value === "lent" || way.value === "left";
      to.hidden = !away;
      who.hidden = !away || to.value !== "";
      many.hidden = way.value === "back";
    }
    way.addEventListener("change", fit);
    to.addEventListener("change", fit);
    fit();
    var done = make("button", { type: "button", class: "act", text: "Mark it", on: { click: function () {
      var move = { item: line.line, vehicle: line.vehicle, place: line.place, what: way.value, quantity: Math.max(0.1, Number(many.value) || 1), at: kit.now() };
      if (!to.hidden) move.to = to.value || who.value;
      if (line.suits) move.suits = line.suits;
      kit.change(function (m) { m.stock.push(move); });
      close();
    } } });
    return make("div", { class: "buttons" }, [way, many, to, who, done]);
  }

  function prepareLines(data, redraw) {
    document.querySelectorAll("[data-line]").forEach(function (row) {
      var name = row.querySelector("b").textContent;
      var marking = null;
      var open = make("button", { type: "button", class: "act", text: "Mark", "aria-label": "Mark: " + name, "aria-expanded": "false", on: { click: function () {
        if (marking) return close();
        marking = panel(data, row, function () {
          close();
          redraw();
          open.focus();
        });
        row.appendChild(marking);
        open.setAttribute("aria-expanded", "true");
        marking.querySelector("select").focus();
        return undefined;
      } } });
      function close() {
        marking.remove();
        marking = null;
        open.setAttribute("aria-expanded", "false");
      }
      row.appendChild(open);
    });
  }

  function sayLines(data) {
    var cover = kit.coverNow(data, kit.marks());
    document.querySelectorAll("[data-line]").forEach(function (row) {
      var left = cover.left[row.dataset.line + "|" + row.dataset.vehicle + "|" + row.dataset.place + "|" + (row.dataset.suits || "")];
      var start = Number(row.dataset.quantity);
      row.querySelector(".count").textContent = left < start ? Number(left.toFixed(2)) + " of " + start + " left:" : start + " ×";
      row.querySelector("b").classList.toggle("gone", !(left > 0));
    });
  }

  kit.data("stock", function (data) {
    var shown = make("div", { role: "status" });
    function redraw() {
      shown.textContent = "";
      shown.appendChild(summary(data));
      sayLines(data);
      kit.notKept();
    }
    place.appendChild(make("h2", { text: "As it stands now" }));
    place.appendChild(shown);
    place.appendChild(vehiclesOut(data, redraw));
    place.appendChild(kit.marksTools());
    place.appendChild(make("button", { type: "button", class: "act", text: "Take back the last mark", on: { click: function () {
      kit.change(function (m) { m.stock.pop(); });
      redraw();
    } } }));
    prepareLines(data, redraw);
    document.addEventListener("fieldkit-marks", redraw);
    redraw();
  });
})();
