/* The finder: signs in, causes by chance on this trip and vehicle out. The same reckoning as fieldkit/likelihood/diagnosis.py. */
(function () {
  "use strict";
  var kit = window.fieldkit;
  var make = kit.make;

  function shows(table, row) {
    if (!table.shows) {
      var link = table.symptoms.map(function () { return table.causes.map(function () { return 0; }); });
      table.link.forEach(function (x) { link[x[0]][x[1]] = x[2]; });
      table.shows = link.map(function (of, n) { return of.map(function (p) { return 1 - (1 - table.leak[n]) * (1 - p); }); });
    }
    return table.shows[row];
  }

  function says(table, modes, cause) {
    return table.causes.map(function (c) { return c === cause ? modes[cause].hit : modes[cause].false; });
  }

  /* Chance of each cause, for a single fault; answers: cause -> true or false. */
  kit.posterior = function (table, modes, present, absent, answers) {
    var weight = table.prior.slice();
    function times(of) { weight = weight.map(function (w, n) { return w * of(n); }); }
    present.forEach(function (s) {
      var row = table.symptoms.indexOf(s);
      if (row >= 0) times(function (n) { return shows(table, row)[n]; });
    });
    absent.forEach(function (s) {
      var row = table.symptoms.indexOf(s);
      if (row >= 0) times(function (n) { return 1 - shows(table, row)[n]; });
    });
    Object.keys(answers).forEach(function (cause) {
      var yes = says(table, modes, cause);
      times(function (n) { return answers[cause] ? yes[n] : 1 - yes[n]; });
    });
    var total = weight.reduce(function (a, b) { return a + b; }, 0);
    return weight.map(function (w) { return total > 0 ? w / total : 0; });
  };

  function entropy(chances) {
    return -chances.reduce(function (sum, p) { return p > 0 ? sum + p * Math.log2(p) : sum; }, 0);
  }

  /* Questions not asked yet, by what each may teach per minute. */
  kit.nextLook = function (table, modes, chances, answers) {
    return table.causes.filter(function (c, n) { return chances[n] > 0 && !(c in answers); }).map(function (cause) {
      var yes = says(table, modes, cause);
      var share = chances.reduce(function (sum, p, n) { return sum + p * yes[n]; }, 0);
      var bits = entropy(chances);
      [[yes, share], [yes.map(function (y) { return 1 - y; }), 1 - share]].forEach(function (x) {
        if (x[1] > 0) bits -= x[1] * entropy(chances.map(function (p, n) { return p * x[0][n] / x[1]; }));
      });
      bits = Math.max(0, bits);
      return { cause: cause, perMinute: bits / modes[cause].minutes };
    }).sort(function (a, b) { return b.perMinute - a.perMinute || (a.cause < b.cause ? -1 : 1); });
  };

  kit.inWords = function (p, ladder) {
    function odds(x) { x = Math.min(Math.max(x, 1e-9), 1 - 1e-9); return Math.log(x / (1 - x)); }
    if (p <= 0) return "none";
    if (p < 0.0007) return "less than 1 in 1,000";
    if (p > 0.97) return "nearly certain";
    var best = ladder[0];
    ladder.forEach(function (r) {
      if (Math.abs(odds(r[0] / r[1]) - odds(p)) < Math.abs(odds(best[0] / best[1]) - odds(p))) best = r;
    });
    return "about " + best[0] + " in " + best[1].toLocaleString("en");
  };

  var place = document.querySelector("[data-finder]");
  if (!place) return;
  var state = { vehicle: "", present: [], absent: [], answers: {} };
  var result = make("div", { "aria-live": "polite" });

  function start(data, stock) {
    var ids = Object.keys(data.vehicles);
    state.vehicle = ids[0];
    var choose = make("select", { id: "finder-vehicle" }, ids.map(function (v) { return make("option", { value: v, text: stock.vehicles[v].name }); }));
    choose.addEventListener("change", function () { state.vehicle = choose.value; state.answers = {}; update(); });
    var type = make("input", { type: "search", id: "finder-type", autocomplete: "off" });
    var options = make("div", { class: "options" });
    type.addEventListener("input", list);
    var picked = make("div", {});

    function list() {
      options.textContent = "";
      var wanted = type.value.toLowerCase().trim().split(/\s+/).filter(Boolean);
      if (!wanted.length) return;
      Object.keys(data.symptoms).filter(function (s) {
        var text = (data.symptoms[s].text + " " + data.symptoms[s].also.join(" ")).toLowerCase();
        return state.present.indexOf(s) < 0 && wanted.every(function (w) { return text.indexOf(w) >= 0; });
      }).slice(0, 8).forEach(function (s) {
        options.appendChild(make("button", { type: "button", class: "act", text: data.symptoms[s].text, on: { click: function () { add(s, true); type.value = ""; list(); type.focus(); } } }));
      });
      if (!options.firstChild) options.appendChild(make("p", { text: "No sign of these words. Pick one from the lists below, or use other words." }));
    }

    function add(s, there) {
      drop(s);
      (there ? state.present : state.absent).push(s);
      update();
    }

    function drop(s) {
      state.present = state.present.filter(function (x) { return x !== s; });
      state.absent = state.absent.filter(function (x) { return x !== s; });
    }

    function chosen() {
      picked.textContent = "";
      state.present.concat(state.absent).forEach(function (s) {
        var there = state.present.indexOf(s) >= 0;
        picked.appendChild(make("div", { class: "choice" }, [
          make("span", { text: (there ? "There: " : "Not there: ") + data.symptoms[s].text }),
          make("button", { type: "button", class: "act", text: "Take out", "aria-label": "Take out: " + data.symptoms[s].text, on: { click: function () { drop(s); update(); } } })
        ]));
      });
    }

    function update() {
      chosen();
      result.textContent = "";
      if (!state.present.length) return;
      var table = data.vehicles[state.vehicle];
      var chances = kit.posterior(table, data.modes, state.present, state.absent, state.answers);
      var order = table.causes.map(function (c, n) { return [c, chances[n]]; }).filter(function (x) { return x[1] > 0.002; }).sort(function (a, b) { return b[1] - a[1] || (a[0] < b[0] ? -1 : 1); }).slice(0, 8);
      if (!order.length) {
        result.appendChild(make("p", { text: "Nothing known on this vehicle shows this. Make safe, then call for help." }));
        return;
      }
      result.appendChild(looks(table, chances));
      result.appendChild(signs(table, chances));
      result.appendChild(make("h3", { text: "Likely causes" }));
      var cover = kit.coverNow(stock, kit.marks());
      order.forEach(function (x, n) { result.appendChild(cause(x[0], x[1], n + 1, cover)); });
    }

    function looks(table, chances) {
      var box = make("div", { class: "now" }, [make("h3", { text: "Look at this next" })]);
      var next = kit.nextLook(table, data.modes, chances, state.answers).filter(function (l) { return l.perMinute > 1e-4; }).slice(0, 2);
      next.forEach(function (look) {
        var mode = data.modes[look.cause];
        box.appendChild(make("p", {}, [make("b", { text: mode.look }), " " + mode.minutes + " min"]));
        box.appendChild(make("div", { class: "buttons" }, [["Yes", true], ["No", false]].map(function (a) {
          return make("button", { type: "button", class: "act", text: a[0], "aria-label": a[0] + ": " + mode.look, on: { click: function () { state.answers[look.cause] = a[1]; update(); } } });
        })));
      });
      if (!next.length) box.appendChild(make("p", { text: "No question would tell more. Start with the likeliest cause." }));
      var asked = Object.keys(state.answers);
      if (asked.length) box.appendChild(make("p", { class: "sub", text: "Answered: " + asked.map(function (c) { return data.modes[c].look + " " + (state.answers[c] ? "Yes." : "No."); }).join(" ") }));
      if (asked.length) box.appendChild(make("button", { type: "button", class: "act", text: "Forget the answers", on: { click: function () { state.answers = {}; update(); } } }));
      return box;
    }

    /* Other signs that would tell these causes apart, judged by how much their chance differs between them. */
    function signs(table, chances) {
      var asked = state.present.concat(state.absent);
      var found = table.symptoms.map(function (s, row) {
        var mean = shows(table, row).reduce(function (sum, p, n) { return sum + p * chances[n]; }, 0);
        return [s, mean * (1 - mean)];
      }).filter(function (x) { return asked.indexOf(x[0]) < 0 && x[1] > 0.05; }).sort(function (a, b) { return b[1] - a[1] || (a[0] < b[0] ? -1 : 1); }).slice(0, 4);
      var box = make("div", {});
      if (!found.length) return box;
      box.appendChild(make("h3", { text: "Is this there too?" }));
      found.forEach(function (x) {
        var text = data.symptoms[x[0]].text;
        box.appendChild(make("div", { class: "choice" }, [make("span", { text: text }), make("div", { class: "buttons" }, [
          make("button", { type: "button", class: "act", text: "Yes", "aria-label": "Yes: " + text, on: { click: function () { add(x[0], true); } } }),
          make("button", { type: "button", class: "act", text: "No", "aria-label": "No: " + text, on: { click: function () { add(x[0], false); } } })
        ])]));
      });
      return box;
    }

    function where(item) {
      return stock.lines.filter(function (l) { return l.item === item && (!l.suits || l.suits.split(" ").indexOf(state.vehicle) >= 0); }).map(function (l) { return stock.vehicles[l.vehicle].name + ", " + l.placeName; }).join("; ");
    }

    function repairLine(id, cover) {
      var repair = stock.repairs[id];
      var missing = cover.lacks[id + "|" + state.vehicle] || [];
      var line = make("li", {}, [make("a", { href: kit.href("repairs/" + id), text: repair.title + " (repair " + repair.number + ")" }), ", " + stock.kinds[repair.kind] + ": "]);
      if (missing.length) {
        line.appendChild(make("b", { class: "not", text: "not covered" }));
        line.appendChild(document.createTextNode(", lacks " + missing.map(function (i) { return stock.items[i].name; }).join(", ")));
      } else {
        var needs = Object.keys(repair.needs).filter(function (i) { return where(i); });
        line.appendChild(document.createTextNode("the kit covers it."));
        if (needs.length) line.appendChild(make("details", { class: "why" }, [make("summary", { text: "where its things are" }), make("ul", {}, needs.map(function (i) { return make("li", { text: stock.items[i].name + ": " + where(i) }); }))]));
      }
      return line;
    }

    function cause(id, chance, place, cover) {
      var mode = data.modes[id];
      var repairs = mode.repairs.filter(function (r) { return stock.repairs[r] && kit.vehiclesOf(stock, stock.repairs[r]).indexOf(state.vehicle) >= 0; });
      repairs.sort(function (a, b) { return (cover.lacks[a + "|" + state.vehicle].length > 0) - (cover.lacks[b + "|" + state.vehicle].length > 0) || stock.repairs[a].number - stock.repairs[b].number; });
      return make("div", { class: "result", "data-cause": id }, [
        make("p", { class: "action" }, [make("span", { class: "n", text: String(place) }), make("a", { href: kit.href("weak-points/" + id), text: mode.title })]),
        make("details", { class: "fig" }, [make("summary", { text: kit.inWords(chance, data.ladder) }), make("span", { text: "exactly: " + (100 * chance).toPrecision(3) + " %. " + mode.why })]),
        make("p", { class: "sub", text: mode.severity }),
        repairs.length ? make("ul", {}, repairs.map(function (r) { return repairLine(r, cover); })) : make("p", { text: "Cannot be mended in the field. Make safe, then call for help." })
      ]);
    }

    place.appendChild(make("h2", { text: "Finder" }));
    place.appendChild(make("div", { class: "picker" }, [
      make("label", { for: "finder-vehicle", text: "Vehicle" }), choose,
      make("label", { for: "finder-type", text: "What do you see, hear, smell, feel or read? Type a word." }), type, options, picked
    ]));
    place.appendChild(result);
    document.addEventListener("fieldkit-marks", update);
    kit.startFinder = function (s) { if (data.symptoms[s]) add(s, true); };
    var asked = /^#sign=([a-z0-9-]+)$/.exec(window.location.hash);
    if (asked) kit.startFinder(asked[1]);
  }

  kit.data("finder", function (data) { kit.data("stock", function (stock) { start(data, stock); }); });
})();
