/* Which repairs the stock still covers. The same rules as fieldkit/handbook/coverage.py; a test holds them together. */
(function () {
  "use strict";
  var kit = window.fieldkit;
  var EPS = 1e-9;

  function take(left, item, wanted, items, vehicle) {
    if (!items[item] || (items[item].suits && items[item].suits.indexOf(vehicle) < 0)) return 0;
    var taken = Math.min(wanted, left[item] || 0);
    if (taken > 0) left[item] -= taken;
    return Math.max(taken, 0);
  }

  /* The vehicles that a repair is for: all, where none are listed. */
  kit.vehiclesOf = function (data, repair) {
    return repair.vehicles || data.all;
  };

  kit.lacking = function (needs, stock, items, vehicle) {
    var left = Object.assign({}, stock);
    var short = {};
    var order = Object.keys(needs).sort();
    order.forEach(function (item) { short[item] = needs[item]; });
    order.forEach(function (item) { short[item] -= take(left, item, short[item], items, vehicle); });
    order.forEach(function (item) {
      ((items[item] && items[item].standIns) || []).forEach(function (other) {
        short[item] -= take(left, other, short[item], items, vehicle);
      });
    });
    var result = {};
    order.forEach(function (item) { if (short[item] > EPS) result[item] = short[item]; });
    return result;
  };

  function lineKey(x) {
    return x.item + "|" + x.vehicle + "|" + x.place + "|" + (x.suits || "");
  }

  /* Packs by item that suit a vehicle: a spare for one build is none for another. */
  function stockFor(lines, left, vehicle) {
    var stock = {};
    lines.forEach(function (line) {
      if (!line.suits || line.suits.split(" ").indexOf(vehicle) >= 0) stock[line.item] = (stock[line.item] || 0) + left[lineKey(line)];
    });
    return stock;
  }

  /* Packs by item and the vehicles that they suit. */
  function byKind(lines, left) {
    var stock = {};
    lines.forEach(function (line) {
      var kind = line.item + "|" + (line.suits || "");
      stock[kind] = (stock[kind] || 0) + left[lineKey(line)];
    });
    return stock;
  }

  function draw(held, home, quantity) {
    [home].concat(Object.keys(held).sort()).forEach(function (vehicle) {
      var taken = Math.min(quantity, held[vehicle] || 0);
      if (taken > 0) {
        held[vehicle] -= taken;
        quantity -= taken;
      }
    });
  }

  /* What is left of each line and item after the moves and without the vehicles that are out. */
  kit.stockLeft = function (lines, moves, out, vehicles) {
    var held = {};
    var first = {};
    lines.forEach(function (line) {
      var spot = line.item + "|" + line.vehicle + "|" + line.place;
      held[lineKey(line)] = {};
      held[lineKey(line)][line.vehicle] = line.quantity;
      if (!first[spot]) first[spot] = lineKey(line);
    });
    moves.forEach(function (move) {
      var key = held[lineKey(move)] ? lineKey(move) : first[move.item + "|" + move.vehicle + "|" + move.place];
      if (!key) return;
      if (move.what === "back") {
        held[key] = {};
        held[key][move.vehicle] = lines.filter(function (l) { return lineKey(l) === key; })[0].quantity;
        return;
      }
      var before = held[key][move.vehicle] || 0;
      if ((move.what === "lent" || move.what === "left") && vehicles.indexOf(move.to) >= 0) {
        var moved = Math.min(move.quantity, before);
        held[key][move.vehicle] = before - moved;
        held[key][move.to] = (held[key][move.to] || 0) + moved;
        return;
      }
      draw(held[key], move.vehicle, move.quantity);
    });
    var gone = out.filter(function (o) { return !o.kit_moved; }).map(function (o) { return o.vehicle; });
    var left = {};
    var stock = {};
    lines.forEach(function (line) {
      var key = lineKey(line);
      var sum = 0;
      Object.keys(held[key]).forEach(function (vehicle) {
        if (gone.indexOf(vehicle) < 0) sum += held[key][vehicle];
      });
      left[key] = sum;
      stock[line.item] = (stock[line.item] || 0) + sum;
    });
    return { left: left, stock: stock };
  };

  /* Cover now beside cover at the start: what is no longer covered, what is now the only one, who sits where. */
  kit.coverNow = function (data, marks) {
    var vehicles = Object.keys(data.vehicles).sort();
    var before = kit.stockLeft(data.lines, [], [], vehicles);
    var now = kit.stockLeft(data.lines, marks.stock, marks.vehicles_out, vehicles);
    var out = marks.vehicles_out.map(function (o) { return o.vehicle; });
    var lost = [];
    var lacks = {};
    var had = byKind(data.lines, before.left);
    var have = byKind(data.lines, now.left);
    var startFor = {};
    var nowFor = {};
    vehicles.forEach(function (v) {
      startFor[v] = stockFor(data.lines, before.left, v);
      nowFor[v] = stockFor(data.lines, now.left, v);
    });
    Object.keys(data.repairs).sort(function (a, b) { return data.repairs[a].number - data.repairs[b].number; }).forEach(function (id) {
      var repair = data.repairs[id];
      kit.vehiclesOf(data, repair).forEach(function (vehicle) {
        var missing = Object.keys(kit.lacking(repair.needs, nowFor[vehicle], data.items, vehicle));
        lacks[id + "|" + vehicle] = missing;
        if (out.indexOf(vehicle) >= 0) return;
        if (missing.length && !Object.keys(kit.lacking(repair.needs, startFor[vehicle], data.items, vehicle)).length) {
          lost.push({ repair: id, vehicle: vehicle, lacks: missing });
        }
      });
    });
    var onlyOne = Object.keys(had).sort().filter(function (kind) { return had[kind] > 1 && have[kind] > 0 && have[kind] <= 1; });
    var none = Object.keys(had).sort().filter(function (kind) { return had[kind] > 0 && !(have[kind] > EPS); });
    var staying = vehicles.filter(function (v) { return out.indexOf(v) < 0; });
    return {
      stock: now.stock,
      left: now.left,
      lost: lost,
      lacks: lacks,
      onlyOne: onlyOne,
      none: none,
      seats: staying.reduce(function (sum, v) { return sum + data.vehicles[v].seats; }, 0),
      people: data.people,
      water: staying.reduce(function (sum, v) { return sum + data.vehicles[v].water; }, 0),
      fuel: fuelByKind(data, staying),
      out: out
    };
  };

  function fuelByKind(data, vehicles) {
    var sums = {};
    vehicles.forEach(function (v) {
      var kind = data.vehicles[v].fuelKind;
      sums[kind] = (sums[kind] || 0) + data.vehicles[v].fuel;
    });
    return sums;
  }
})();
