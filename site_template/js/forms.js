/* An inspection form on a phone: findings ticked here are kept, and saved as the marks file. */
(function () {
  "use strict";
  var kit = window.fieldkit;
  var make = kit.make;
  var head = document.querySelector("[data-form]");
  if (!head) return;

  function today() {
    var d = new Date();
    function two(n) { return (n < 10 ? "0" : "") + n; }
    return d.getFullYear() + "-" + two(d.getMonth() + 1) + "-" + two(d.getDate());
  }

  function field(name, value, type) {
    var cell = document.querySelector('[data-fill="' + name + '"]');
    var input = make("input", { type: type || "text", value: value, "aria-label": cell.previousElementSibling.textContent });
    if (!(name === "vehicle" && head.dataset.form)) {
      cell.textContent = "";
      cell.appendChild(input);
    }
    return input;
  }

  var vehicle = field("vehicle", head.dataset.form);
  var date = field("date", today(), "date");
  var inspector = field("inspector", kit.marks().by || "");
  inspector.addEventListener("change", function () { kit.change(function (m) { m.by = inspector.value; }); });

  function same(x, mode, position) {
    return x.failure_mode === mode && (x.position || "") === position && x.vehicle === vehicle.value;
  }

  function put(mode, position, finding, note) {
    kit.change(function (m) {
      var old = m.findings.filter(function (x) { return same(x, mode, position); })[0] || {};
      m.findings = m.findings.filter(function (x) { return !same(x, mode, position); });
      if (!finding) return;
      m.findings.push({
        date: date.value || today(), vehicle: vehicle.value, failure_mode: mode, position: position, finding: finding,
        measured: old.measured || "", inspector: inspector.value, note: note === undefined ? old.note || "" : note
      });
    });
    kit.notKept();
    result();
  }

  function known(mode, position) {
    return kit.marks().findings.filter(function (x) { return same(x, mode, position); })[0];
  }

  document.querySelectorAll("tbody[data-mode]").forEach(function (row, n) {
    var mode = row.dataset.mode;
    var title = row.querySelector(".what").textContent;
    row.querySelectorAll(".found-at").forEach(function (place, p) {
      var position = place.dataset.position;
      var before = known(mode, position);
      var note = make("input", { type: "text", "aria-label": "Measured, note: " + title + (position ? ", " + position : "") });
      if (before && before.note) note.value = before.note;
      place.querySelectorAll(".box").forEach(function (box) {
        var finding = box.dataset.finding;
        var input = make("input", { type: "radio", name: "f-" + n + "-" + p, value: finding, "aria-label": title + (position ? ", " + position : "") + ": " + box.textContent.trim() });
        input.checked = Boolean(before && before.finding === finding);
        input.addEventListener("change", function () { put(mode, position, finding, note.value); });
        var label = make("label", { class: "tick-box" }, [input]);
        while (box.firstChild) label.appendChild(box.firstChild);
        box.appendChild(label);
        box.classList.add("has-box");
      });
      note.addEventListener("change", function () {
        var chosen = place.querySelector("input:checked");
        if (chosen) put(mode, position, chosen.value, note.value);
      });
      var rule = place.querySelector("[data-note] .rule");
      if (rule) rule.replaceWith(note);
    });
  });

  /* On a phone the walk starts with its first part open; on a wide screen and on paper all parts are. */
  if (window.matchMedia("(max-width: 44rem)").matches) {
    document.querySelectorAll("details.station").forEach(function (part, n) { part.open = n === 0; });
  }

  document.querySelectorAll("tr[data-figure]").forEach(function (row) {
    var id = row.dataset.figure;
    var cell = row.querySelector("td");
    var before = kit.marks().figures.filter(function (f) { return f.vehicle === vehicle.value && f.figure === id; })[0];
    var input = make("input", { type: "text", value: before ? before.value : cell.textContent.trim(), "aria-label": row.querySelector("th").textContent });
    input.addEventListener("change", function () {
      kit.change(function (m) {
        m.figures = m.figures.filter(function (f) { return !(f.vehicle === vehicle.value && f.figure === id); });
        if (input.value.trim()) m.figures.push({ vehicle: vehicle.value, figure: id, value: input.value.trim() });
      });
    });
    cell.textContent = "";
    cell.appendChild(input);
  });

  document.querySelectorAll("[data-tick]").forEach(function (node) {
    var list = document.body.dataset.page + "-" + (head.dataset.form || "blank");
    var marks = kit.marks();
    var box = make("input", { type: "checkbox" });
    box.checked = Boolean(marks.ticks[list] && marks.ticks[list][node.dataset.tick]);
    box.addEventListener("change", function () {
      kit.change(function (m) {
        m.ticks[list] = m.ticks[list] || {};
        if (box.checked) m.ticks[list][node.dataset.tick] = kit.now();
        else delete m.ticks[list][node.dataset.tick];
      });
    });
    var label = make("label", {}, [box, node.textContent]);
    node.textContent = "";
    node.appendChild(label);
    node.classList.add("has-box");
  });

  var place = document.querySelector("[data-result]");
  var purchase = document.body.dataset.page === "form-purchase";

  function none() {
    return { low: 0, high: 0, hoursLow: 0, hoursHigh: 0, unpriced: 0 };
  }

  function add(sum, row) {
    if (!row.dataset.low) { sum.unpriced += 1; return; }
    sum.low += Number(row.dataset.low);
    sum.high += Number(row.dataset.high);
    sum.hoursLow += Number(row.dataset.hoursLow);
    sum.hoursHigh += Number(row.dataset.hoursHigh);
  }

  function span(low, high) {
    var a = Number(low.toFixed(1)), b = Number(high.toFixed(1));
    return a === b ? String(a) : a + " to " + b;
  }

  function fillSums(sums) {
    document.querySelectorAll("[data-sum]").forEach(function (row) {
      var sum = sums[row.dataset.sum] || none();
      var cells = row.querySelectorAll("td");
      cells[0].textContent = sum.low.toFixed(0);
      cells[1].textContent = sum.high.toFixed(0);
      cells[2].textContent = span(sum.hoursLow, sum.hoursHigh);
    });
  }

  function result() {
    var sums = { all: none() }, carries = [], stops = [], unseen = [], counts = {}, bad = 0, done = 0, all = 0;
    document.querySelectorAll("tbody[data-mode]").forEach(function (row) {
      var title = row.querySelector(".what").textContent;
      var station = row.closest("[data-station]").dataset.station;
      var costs = false, stop = false, hidden = false;
      row.querySelectorAll(".found-at").forEach(function (at) {
        all += 1;
        counts[station] = counts[station] || [0, 0];
        counts[station][1] += 1;
        var chosen = at.querySelector("input:checked");
        if (!chosen) return;
        done += 1;
        counts[station][0] += 1;
        if (chosen.value === "worn" || chosen.value === "defective") { costs = true; bad += 1; }
        if (chosen.value === "defective" && row.dataset.unsafe) stop = true;
        if (chosen.value === "not-seen") hidden = true;
      });
      if (hidden) unseen.push(title);
      if (stop) (row.dataset.structure ? carries : stops).push(title);
      sums[station] = sums[station] || none();
      if (costs) { add(sums[station], row); add(sums.all, row); }
    });
    document.querySelectorAll("[data-station]").forEach(function (table) {
      var count = counts[table.dataset.station] || [0, 0];
      table.closest("details").querySelector("[data-done]").textContent = ", " + count[0] + " of " + count[1] + " filled in";
    });
    place.textContent = "";
    function line(text, strong) { place.appendChild(make("p", {}, [strong ? make("b", { text: text }) : text])); }
    line(done + " of " + all + " filled in; " + bad + " worn or defective; " + unseen.length + " points not seen.");
    var unsafe = carries.concat(stops);
    if (unsafe.length) line((purchase ? "Reasons to walk away: " : "Stops the vehicle: ") + unsafe.join("; ") + ".", true);
    if (purchase) {
      var sum = sums.all;
      line("To put right what is worn or defective: " + sum.low.toFixed(0) + " to " + sum.high.toFixed(0) + " " + place.dataset.result + ", " + span(sum.hoursLow, sum.hoursHigh) + " h of work, as far as the library knows.", true);
      if (sum.unpriced) line(sum.unpriced + " of these have no price in the library: ask a workshop.");
      if (unseen.length) line("Not looked at today, and so unknown: " + unseen.join("; ") + ".");
      fillSums(sums);
    }
  }

  document.querySelector("[data-form-save]").appendChild(kit.marksTools());
  if (!kit.kept) kit.notKept();
  result();
})();
