/* Larger letters, a dark page, the strongest contrast: chosen once, kept on this device. */
(function () {
  "use strict";
  var kit = window.fieldkit;
  var make = kit.make;
  var root = document.documentElement;

  function applyView() {
    var scheme = kit.view("scheme");
    if (scheme === "dark" || scheme === "strong") root.dataset.scheme = scheme;
    else delete root.dataset.scheme;
    if (kit.view("size") === "large") root.dataset.size = "large";
    else delete root.dataset.size;
    document.querySelectorAll("[data-view]").forEach(function (button) {
      var parts = button.dataset.view.split(":");
      button.setAttribute("aria-pressed", String(kit.view(parts[0]) === parts[1]));
    });
  }

  function viewButton(name, value, text) {
    return make("button", { type: "button", "data-view": name + ":" + value, "aria-pressed": "false", text: text, on: { click: function () {
      kit.view(name, kit.view(name) === value ? "" : value);
      applyView();
    } } });
  }

  /* The buttons stand at the foot: they come when the page has been read to its end. */
  document.addEventListener("DOMContentLoaded", function () {
    var tools = document.querySelector("[data-view-tools]");
    if (!tools) return;
    [viewButton("size", "large", "Larger letters"), viewButton("scheme", "dark", "Dark page"), viewButton("scheme", "strong", "Strongest contrast")].forEach(function (b) { tools.appendChild(b); });
    applyView();
  });
  applyView();
})();
