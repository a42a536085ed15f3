// A slider shows its figure while it is moved, and its form is sent when it is let go. Without this script the button
// below the sliders sends the form.
(function () {
  "use strict";
  document.querySelectorAll("form[data-sliders]").forEach(function (form) {
    form.addEventListener("input", function (event) {
      var shown = event.target.parentElement.querySelector("[data-shown]");
      if (shown) shown.textContent = event.target.value;
    });
    form.addEventListener("change", function () {
      form.requestSubmit();
    });
  });
})();
