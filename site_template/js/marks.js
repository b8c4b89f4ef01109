/* What is marked on this device: kept in storage where the browser allows it, else for as long as the page is open. */
(function () {
  "use strict";
  var body = document.body;
  var kit = (window.fieldkit = window.fieldkit || {});
  kit.trip = body.dataset.trip || "";
  kit.revision = body.dataset.revision || "";
  kit.oneFile = body.classList.contains("one-file");
  kit.root = body.dataset.root || "";
  var prefix = "fieldkit:" + kit.trip + ":" + kit.revision + ":";
  var memory = {};
  kit.kept = true;

  function read(key) {
    try {
      var value = window.localStorage.getItem(key);
      return value === null && key in memory ? memory[key] : value;
    } catch (odd) {
      kit.kept = false;
      return key in memory ? memory[key] : null;
    }
  }

  function write(key, value) {
    memory[key] = value;
    try {
      window.localStorage.setItem(key, value);
    } catch (odd) {
      kit.kept = false;
    }
  }

  kit.view = function (name, value) {
    if (value === undefined) return read("fieldkit:view:" + name);
    write("fieldkit:view:" + name, value);
    return value;
  };

  function empty() {
    return { by: "", ticks: {}, findings: [], figures: [], stock: [], vehicles_out: [] };
  }

  /* The marks as an object; a stored text that cannot be read counts as none. */
  kit.marks = function () {
    try {
      return Object.assign(empty(), JSON.parse(read(prefix + "marks") || "{}"));
    } catch (odd) {
      return empty();
    }
  };

  kit.change = function (how) {
    var marks = kit.marks();
    how(marks);
    write(prefix + "marks", JSON.stringify(marks));
    document.dispatchEvent(new CustomEvent("fieldkit-marks"));
    return marks;
  };

  kit.now = function () {
    return new Date().toISOString();
  };

  /* The marks file of docs/schema/marks.schema.json, as text. */
  kit.marksFile = function () {
    var marks = kit.marks();
    var ticks = [];
    Object.keys(marks.ticks).sort().forEach(function (list) {
      Object.keys(marks.ticks[list]).sort().forEach(function (item) {
        ticks.push({ list: list, item: item, at: marks.ticks[list][item] });
      });
    });
    var file = {
      format: "fieldkit-marks-1",
      trip: kit.trip,
      revision: kit.revision,
      saved: kit.now(),
      by: marks.by,
      ticks: ticks,
      findings: marks.findings,
      figures: marks.figures,
      stock: marks.stock,
      vehicles_out: marks.vehicles_out
    };
    return JSON.stringify(file, null, 1);
  };

  kit.marksName = function () {
    return "fieldkit-marks-" + kit.trip + "-" + kit.revision + ".json";
  };

  /* Marks of another device added to these; what is known already is not counted twice. */
  kit.readMarks = function (text) {
    var file = JSON.parse(text);
    if (file.format !== "fieldkit-marks-1") throw new Error("This is not a marks file.");
    if (file.trip !== kit.trip) throw new Error("This file is of another trip: " + file.trip + ".");
    return kit.change(function (marks) {
      (file.ticks || []).forEach(function (t) {
        marks.ticks[t.list] = marks.ticks[t.list] || {};
        if (!marks.ticks[t.list][t.item]) marks.ticks[t.list][t.item] = t.at || kit.now();
      });
      ["findings", "figures", "stock", "vehicles_out"].forEach(function (kind) {
        var known = marks[kind].map(function (x) { return JSON.stringify(x); });
        (file[kind] || []).forEach(function (x) {
          if (known.indexOf(JSON.stringify(x)) < 0) marks[kind].push(x);
        });
      });
      if (!marks.by && file.by) marks.by = file.by;
    });
  };

  /* -------------------------------------------------------------- small helpers for building pages */
  kit.make = function (tag, attributes, children) {
    var node = document.createElement(tag);
    Object.keys(attributes || {}).forEach(function (name) {
      if (name === "text") node.textContent = attributes[name];
      else if (name === "on") Object.keys(attributes.on).forEach(function (event) { node.addEventListener(event, attributes.on[event]); });
      else if (attributes[name] !== null && attributes[name] !== undefined && attributes[name] !== false) node.setAttribute(name, attributes[name]);
    });
    (children || []).forEach(function (child) {
      if (child) node.appendChild(typeof child === "string" ? document.createTextNode(child) : child);
    });
    return node;
  };

  kit.href = function (key, anchor) {
    if (kit.oneFile) {
      var sheet = kit.sheet(key);
      return "#" + (anchor || (sheet ? sheet.id : ""));
    }
    return kit.root + key + ".html" + (anchor ? "#" + anchor : "");
  };

  /* Data by name: from the page itself in the one-file handbook, else from a classic script beside it. */
  var waiting = {};
  kit.data = function (name, then) {
    var ready = window.fieldkitData && window.fieldkitData[name];
    if (ready) return then(ready);
    var inline = document.getElementById("data-" + name);
    if (inline) {
      window.fieldkitData = window.fieldkitData || {};
      window.fieldkitData[name] = JSON.parse(inline.textContent);
      return then(window.fieldkitData[name]);
    }
    (waiting[name] = waiting[name] || []).push(then);
    if (waiting[name].length > 1) return undefined;
    var script = document.createElement("script");
    script.src = kit.root + "data/" + name + ".js";
    script.onload = function () {
      waiting[name].forEach(function (f) { f(window.fieldkitData[name]); });
      waiting[name] = [];
    };
    document.head.appendChild(script);
    return undefined;
  };

  /* Buttons that save the marks, show them as text, and read another device's. */
  kit.marksTools = function () {
    var make = kit.make;
    var said = make("p", { class: "sub", role: "status" });
    var shown = make("div");
    var save = make("button", { type: "button", class: "act", text: "Save the marks file", on: { click: function () {
      var text = kit.marksFile();
      try {
        var link = make("a", { href: URL.createObjectURL(new Blob([text], { type: "application/json" })), download: kit.marksName() });
        document.body.appendChild(link);
        link.click();
        link.remove();
        said.textContent = "Saved as " + kit.marksName() + ". If no file appears, use: Show as text.";
      } catch (odd) {
        show();
      }
    } } });
    function show() {
      shown.textContent = "";
      var box = make("textarea", { readonly: "", "aria-label": "The marks file as text" });
      box.value = kit.marksFile();
      shown.appendChild(make("p", { text: "Copy all of this into a message. On the other side save it as " + kit.marksName() + "." }));
      shown.appendChild(box);
      box.focus();
      box.select();
    }
    var text = make("button", { type: "button", class: "act", text: "Show as text", on: { click: show } });
    var file = make("input", { type: "file", accept: ".json,application/json", id: "fieldkit-read", on: { change: function () {
      var reader = new FileReader();
      reader.onload = function () {
        try {
          kit.readMarks(String(reader.result));
          said.textContent = "Read. Nothing was counted twice.";
        } catch (odd) {
          said.textContent = odd instanceof SyntaxError ? "This is not a marks file." : odd.message;
        }
      };
      if (file.files[0]) reader.readAsText(file.files[0]);
    } } });
    return make("div", { class: "no-print" }, [
      make("div", { class: "buttons" }, [save, text]),
      make("p", {}, [make("label", { for: "fieldkit-read", text: "Read another device's marks file: " }), file]),
      said,
      shown
    ]);
  };

  kit.notKept = function () {
    if (kit.kept || document.querySelector(".notice-line")) return;
    var main = document.querySelector("main");
    var line = kit.make("p", { class: "notice-line", role: "status", text: "Marks are not saved on this device. They last until this page is closed: save the marks file before." });
    if (main) main.insertBefore(line, main.firstChild);
  };
})();
