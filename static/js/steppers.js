// Plus and minus keys beside a field: data-step says by how much, data-for whose field. Whole thousandths, so that
// ten times a tenth is one. An empty field is stepped from data-start, which nobody has read. Without this script the field takes typing, and the buttons send the form with their value.
(function () {
  "use strict";
  function places(text) {
    var point = text.indexOf(".");
    return point < 0 ? 0 : text.length - point - 1;
  }
  function show(output, value) { // the point of a big figure is closed up, as the filter big_figure prints it
    var parts = value.split(".");
    output.textContent = parts[0];
    if (parts.length < 2) return;
    var point = document.createElement("span");
    point.className = "point";
    point.textContent = ".";
    output.append(point, parts[1]);
  }
  document.addEventListener("click", function (event) {
    var button = event.target.closest("[data-step]");
    if (!button) return;
    var field = document.getElementById(button.dataset.for);
    if (!field) return;
    event.preventDefault();
    var now = Math.round(Number(field.value || field.dataset.start || field.placeholder || 0) * 1000);
    if (!Number.isFinite(now)) return;
    var least = field.dataset.least ? Math.round(Number(field.dataset.least) * 1000) : -Infinity;
    var most = field.dataset.most ? Math.round(Number(field.dataset.most) * 1000) : Infinity;
    var next = Math.min(most, Math.max(least, now + Math.round(Number(button.dataset.step) * 1000)));
    field.value = (next / 1000).toFixed(Math.max(places(button.dataset.step), places(field.value)));
    document.querySelectorAll("[data-shows='" + field.id + "']").forEach(function (output) {
      show(output, field.value);
    });
    field.dispatchEvent(new Event("change", { bubbles: true }));
  });
})();
