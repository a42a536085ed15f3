// Keys of a page: "/" to the find field, Enter the one main act, Esc one step back, letters as data-key says.
// They act outside fields only; letters are off where the person switched them off (WCAG 2.1.4).
(function () {
  "use strict";
  function typing(target) {
    return Boolean(target.closest && target.closest("input, textarea, select, [contenteditable]"));
  }
  function act(element) {
    if (element.matches("input, select, textarea")) element.focus();
    else element.click();
  }
  function keyOf(element) {
    var shown = element.querySelector(".key"); // the key that a main act shows is the key that it has
    return element.dataset.key || (shown ? shown.textContent.trim() : "");
  }
  function withKey(key) {
    return Array.prototype.find.call(document.querySelectorAll("[data-key], .main-act"), function (element) {
      return keyOf(element) === key && !element.disabled;
    });
  }
  document.addEventListener("keydown", function (event) {
    if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    var target = event.target;
    if (event.key === "Escape") {
      if (typing(target)) target.blur();
      else stepBack();
      return;
    }
    if (typing(target)) return;
    if (event.key === "Enter" && target.closest("a, button, summary, [role=button]")) return;
    var lettersOff = document.body.dataset.letterKeys === "off";
    if (event.key.length === 1 && lettersOff) return;
    if (event.key === "/") {
      var find = document.querySelector("[data-find]");
      if (find) {
        event.preventDefault();
        find.focus();
        find.select();
      }
      return;
    }
    var found = withKey(event.key);
    if (found) {
      event.preventDefault();
      act(found);
    }
  });
  function stepBack() {
    var back = document.querySelector("[data-back]");
    if (back) back.click();
  }
})();
