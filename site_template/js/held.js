/* The one-file handbook: most pages wait as text (a noscript element) and become a page when they are asked for, come near, are printed,
   or when the device has nothing else to do. Without scripts the browser shows them all. In that file this script stands alone, in the
   plainest script language, so that nothing in the others can keep the pages from coming. */
(function () {
  "use strict";
  var kit = (window.fieldkit = window.fieldkit || {});
  var helpers = [];

  function waiting(sheet) {
    var first = sheet.firstElementChild;
    return first && first.tagName === "NOSCRIPT" ? first : null;
  }

  function sheets() {
    return Array.prototype.slice.call(document.querySelectorAll("article.sheet")).filter(waiting);
  }

  /* What is to be done to each part of the handbook as it becomes a page: at once for what is there. */
  kit.onArrive = function (how) {
    helpers.push(how);
    how(document);
  };

  /* The one place where text becomes a page: it was a page as this file was made, with every name and note in it escaped. */
  kit.asPart = function (text) {
    var part = document.createElement("template");
    part.innerHTML = text;
    return part.content;
  };

  kit.fill = function (sheet) {
    var held = sheet && waiting(sheet);
    if (!held) return;
    var part = kit.asPart(held.textContent);
    sheet.removeChild(held);
    sheet.appendChild(part);
    helpers.forEach(function (how) { how(sheet); });
  };

  /* The page of a key in the one file; looked up once, while it is still small. */
  var byKey = null;
  var keys = [];
  function look() {
    byKey = {};
    keys = [];
    document.querySelectorAll("article.sheet").forEach(function (sheet) {
      byKey[sheet.dataset.page] = sheet;
      keys.push(sheet.dataset.page);
    });
  }
  kit.sheet = function (key) {
    if (!byKey || !byKey[key]) look();
    return byKey[key] || null;
  };

  /* The key of a page by its place in the file. */
  kit.keyAt = function (place) {
    if (!(place in keys)) look();
    return keys[place] || "";
  };

  kit.fillAll = function () {
    sheets().forEach(kit.fill);
  };

  /* The page with this id, or the page that holds it, is filled. */
  kit.reach = function (id) {
    if (!id) return;
    var there = document.getElementById(id);
    if (there) {
      if (there.classList.contains("sheet")) kit.fill(there);
      return;
    }
    var mark = new RegExp(" id=\"?" + id.replace(/[^\w-]/g, "") + "[\" >]");
    kit.fill(sheets().filter(function (sheet) { return mark.test(waiting(sheet).textContent); })[0]);
  };

  function here() {
    kit.reach(window.location.hash.slice(1));
  }

  function whenIdle() {
    var left = sheets();
    var later = window.requestIdleCallback || function (then) { return window.setTimeout(function () { then(null); }, 60); };
    function some(deadline) {
      do kit.fill(left.shift());
      while (left.length && deadline && deadline.timeRemaining() > 12);
      if (left.length) later(some);
    }
    if (left.length) later(some);
  }

  function whenNear() {
    if (!window.IntersectionObserver) return;
    var near = new window.IntersectionObserver(function (seen) {
      seen.forEach(function (entry) {
        if (!entry.isIntersecting) return;
        kit.fill(entry.target);
        near.unobserve(entry.target);
      });
    }, { rootMargin: "1500px 0px" });
    sheets().forEach(function (sheet) { near.observe(sheet); });
  }

  if (!document.body.classList.contains("one-file")) return;
  document.addEventListener("click", function (event) {
    var link = event.target.closest && event.target.closest("a[href^='#']");
    if (link) kit.reach(link.getAttribute("href").slice(1));
  }, true);
  window.addEventListener("hashchange", here);
  window.addEventListener("beforeprint", kit.fillAll);
  document.addEventListener("DOMContentLoaded", function () {
    var asked = window.location.hash;
    kit.sheet("index");
    here();
    if (asked.length > 1 && document.getElementById(asked.slice(1))) document.getElementById(asked.slice(1)).scrollIntoView();
    whenNear();
    whenIdle();
  });
})();
