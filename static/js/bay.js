// The big figure of the bay: what stands beside it in the other system, and the notch on its scale, follow the keys.
(function () {
  "use strict";
  var field = document.querySelector("input.big-figure");
  if (!field) return;
  var beside = document.querySelector("[data-beside]");
  var marks = document.querySelectorAll("form .drawn-now-mark, form .drawn-now");
  var shown = document.querySelector("[data-as-shown]"); // takes the expected figure; gives way to one that is read
  var first = Number(field.value);
  function follow() {
    var now = Number(field.value);
    var known = field.value !== "" && Number.isFinite(now);
    if (shown) shown.hidden = field.value.trim() !== "";
    if (beside) beside.classList.remove("soft");
    if (beside && field.dataset.otherPer) {
      var other = (now - Number(field.dataset.otherFrom)) * Number(field.dataset.otherPer);
      beside.textContent = known ? other.toFixed(1).replace("-", "\u2212") + " " + field.dataset.otherUnit : "";
    }
    var by = known ? (now - first) * Number(field.dataset.notchPer || 0) : 0;
    marks.forEach(function (mark) { mark.setAttribute("transform", "translate(" + by.toFixed(1) + " 0)"); });
  }
  field.addEventListener("change", follow);
  field.addEventListener("input", follow);
})();
