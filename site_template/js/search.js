/* The search box: made here, so that it is absent where scripts do not run. The index is read when the box is first used. */
(function () {
  "use strict";
  var kit = window.fieldkit;
  var make = kit.make;
  var tools = document.querySelector("[data-tools]");
  if (!tools) return;

  function words(text) {
    var found = [];
    (text.toLowerCase().match(/[\p{L}\p{N}]+(?:-[\p{L}\p{N}]+)*/gu) || []).forEach(function (word) {
      found.push(word);
      if (word.indexOf("-") > 0) word.split("-").forEach(function (part) { found.push(part); });
    });
    return found.filter(function (w) { return w.length > 1; });
  }

  /* Letters that differ between two words, swaps counted once; gives up beyond `most`. */
  function distance(a, b, most) {
    if (Math.abs(a.length - b.length) > most) return most + 1;
    var before = null;
    var last = [];
    var row = [];
    for (var j = 0; j <= b.length; j++) last.push(j);
    for (var i = 1; i <= a.length; i++) {
      row = [i];
      var best = i;
      for (j = 1; j <= b.length; j++) {
        var cost = a[i - 1] === b[j - 1] ? 0 : 1;
        var value = Math.min(last[j] + 1, row[j - 1] + 1, last[j - 1] + cost);
        if (before && i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) value = Math.min(value, before[j - 2] + 1);
        row.push(value);
        if (value < best) best = value;
      }
      if (best > most) return most + 1;
      before = last;
      last = row;
    }
    return last[b.length];
  }

  var DIGITS = "0123456789abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ";

  /* The one file keeps the words of the index as one text (fieldkit/handbook/light.py, packed_words). */
  function wordsOf(text) {
    var parts = text.split(" ");
    var found = {};
    var word = "";
    for (var i = 0; i < parts.length - 1; i += 2) {
      var sign = parts[i].charCodeAt(0);
      word = word.slice(0, sign < 58 ? sign - 48 : sign - 87) + parts[i].slice(1);
      found[word] = parts[i + 1];
    }
    return found;
  }

  /* Done as the box is entered, before a word is typed. */
  function ready(index) {
    if (typeof index.words === "string") index.words = wordsOf(index.words);
    if (!index.list) index.list = Object.keys(index.words);
  }

  /* Page numbers of a word, unpacked when first asked for (fieldkit/handbook/search.py, packed). */
  function pagesOf(index, word) {
    var kept = Object.prototype.hasOwnProperty.call(index.words, word) ? index.words[word] : null;
    if (typeof kept !== "string") return kept;
    var numbers = [];
    for (var i = 0; i < kept.length; i += index.signs) {
      var v = 0;
      for (var k = 0; k < index.signs; k += 1) v = v * DIGITS.length + DIGITS.indexOf(kept[i + k]);
      numbers.push(v % 2 ? -(v - 1) / 2 - 1 : v / 2);
    }
    index.words[word] = numbers;
    return numbers;
  }

  /* Words of the index that a typed word may mean, each with a weight. */
  function meant(index, word) {
    var list = index.list;
    var found = [];
    var exact = pagesOf(index, word);
    if (exact) found.push([exact, 1]);
    if (word.length >= 3) {
      var stem = word.length > 4 && word[word.length - 1] === "s" ? word.slice(0, -1) : word;
      list.forEach(function (other) {
        if (other !== word && other.indexOf(stem) === 0) found.push([pagesOf(index, other), 0.6 * stem.length / other.length + 0.2]);
      });
    }
    var most = word.length >= index.settings.two_letters_from ? 2 : word.length >= index.settings.one_letter_from ? 1 : 0;
    if (!found.length && most) {
      list.forEach(function (other) {
        var d = distance(word, other, most);
        if (d <= most) found.push([pagesOf(index, other), 0.5 / d]);
      });
    }
    return found;
  }

  function addScores(scores, postings, weight, bit) {
    postings.forEach(function (entry, place) {
      var page = entry < 0 ? -entry - 1 : entry;
      var worth = weight * (entry < 0 ? 10 : 3 / (1 + place / 8));
      var s = (scores[page] = scores[page] || { sum: 0, bits: {} });
      if (!s.bits[bit] || s.bits[bit] < worth) {
        s.sum += worth - (s.bits[bit] || 0);
        s.bits[bit] = worth;
      }
    });
  }

  /* Numbers of the pages that answer a query, best first. */
  kit.search = function (index, query) {
    ready(index);
    var text = query.toLowerCase().trim();
    var asked = words(text);
    var number = /^(?:repair|no\.?|number|#)?\s*(\d{1,4})$/.exec(text);
    if (number) return index.numbers.slice(number[1] - 1, number[1]);
    if (!asked.length) return [];
    var scores = {};
    asked.forEach(function (word, bit) {
      meant(index, word).forEach(function (m) { addScores(scores, m[0], m[1], bit); });
    });
    Object.keys(index.alias).forEach(function (alias) {
      if ((" " + text + " ").indexOf(" " + alias + " ") < 0 && text !== alias) return;
      var ours = words(index.alias[alias]);
      var all = {};
      ours.forEach(function (word, n) {
        meant(index, word).forEach(function (m) { addScores(all, m[0], m[1], n); });
      });
      Object.keys(all).forEach(function (page) {
        if (Object.keys(all[page].bits).length < ours.length) return;
        var s = (scores[page] = scores[page] || { sum: 0, bits: {} });
        s.sum += all[page].sum / ours.length + 4;
        alias.split(/[\s-]+/).forEach(function (part) {
          var bit = asked.indexOf(part);
          if (bit >= 0) s.bits[bit] = s.bits[bit] || 1;
        });
      });
    });
    return Object.keys(scores).map(function (page) {
      var share = Object.keys(scores[page].bits).length / asked.length;
      return [Number(page), scores[page].sum * share * share];
    }).sort(function (a, b) { return b[1] - a[1] || a[0] - b[0]; }).slice(0, index.settings.most).map(function (x) { return x[0]; });
  };

  /* In the one-file handbook a page's first words stand in the page itself. */
  function firstWords(key) {
    var sheet = kit.sheet(key);
    var held = sheet && sheet.querySelector("noscript");
    var lead = sheet && sheet.querySelector(".lead");
    if (held) {
      lead = kit.asPart(held.textContent.slice(0, 2000)).querySelector(".lead");
    }
    var text = lead ? lead.textContent : "";
    return text.length > 110 ? text.slice(0, 107) + " ..." : text;
  }

  function show(index, query, list) {
    list.textContent = "";
    if (!/..|\d/.test(query.trim())) {
      list.hidden = true;
      return;
    }
    list.hidden = false;
    var found = kit.search(index, query);
    found.forEach(function (n) {
      var page = index.pages[n];
      var number = index.numbers.indexOf(n) + 1;
      var key = index.chapters ? kit.keyAt(n) : page[0];
      var title = index.chapters ? page[0] : page[1];
      var chapter = index.chapters ? index.chapters[page[1]] : page[2];
      var lead = index.chapters ? firstWords(key) : page[3];
      list.appendChild(make("li", {}, [make("a", { href: kit.href(key) }, [
        make("b", { text: title }), " ", make("span", { class: "sub", text: (number ? "Repair " + number : chapter) + (lead ? ": " + lead : "") })
      ])]));
    });
    if (!found.length) list.appendChild(make("li", {}, [make("p", { text: index.settings.nothing })]));
  }

  var label = tools.dataset.tools;
  var list = make("ul", { class: "found", "aria-label": "Found" });
  list.hidden = true;
  var box = make("input", { type: "search", "aria-label": label, placeholder: label, autocomplete: "off", spellcheck: "false" });
  function ask() {
    kit.data("search", function (index) { show(index, box.value, list); });
  }
  box.addEventListener("focus", function () { kit.data("search", ready); });
  box.addEventListener("input", ask);
  box.addEventListener("keydown", function (event) {
    if (event.key === "Escape") {
      box.value = "";
      ask();
    }
    if (event.key === "Enter") {
      var first = list.querySelector("a");
      if (first) first.click();
    }
  });
  list.addEventListener("click", function () {
    if (!kit.oneFile) return;
    box.value = "";
    list.hidden = true;
  });
  document.addEventListener("DOMContentLoaded", function () { if (box.value) ask(); }); /* pages that came after the question */
  tools.insertBefore(box, tools.firstChild);
  tools.parentNode.appendChild(list);
})();
