// A form that was sent is not sent again by a second press; its once-key would stop the repeat anyway.
(function () {
  "use strict";
  document.addEventListener("submit", function (event) {
    var form = event.target;
    if (event.defaultPrevented || form.method !== "post") return;
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    // Back in the browser shows the page as it was left: let it be sent again then.
    window.setTimeout(function () { delete form.dataset.sent; }, 10000);
  });
  window.addEventListener("pageshow", function () {
    document.querySelectorAll("form[data-sent]").forEach(function (form) { delete form.dataset.sent; });
  });
  document.addEventListener("htmx:afterRequest", function (event) {
    var form = event.target.closest && event.target.closest("form");
    if (form) delete form.dataset.sent;
  });
})();
