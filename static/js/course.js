// The Fluid course by keys, in an amount: + and - a tenth more or less, Alt with arrow up or down moves the stage.
(function () {
  "use strict";
  const table = document.querySelector(".course-stages");
  if (!table) { return; }
  table.addEventListener("keydown", function (event) {
    if (!event.target.matches("input[type=text]") || event.ctrlKey || event.metaKey) { return; }
    const what = event.altKey
      ? { ArrowUp: "up", ArrowDown: "down" }[event.key]
      : { "+": "more", "-": "less" }[event.key];
    const number = event.target.name.replace("amount_", "");
    const button = what && table.querySelector('button[value="' + what + " " + number + '"]');
    if (button) {
      event.preventDefault();
      button.click();
    }
  });
}());
