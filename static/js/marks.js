// Say how many lines are marked and what they are worth; without script the button speaks of "the marked".
(function () {
  "use strict";
  var boxes = document.querySelectorAll("input[type=checkbox][data-cents]");
  var sentence = document.querySelector("[data-marked]");
  var word = document.querySelector("[data-marked-word]");
  if (!boxes.length || !sentence || !word) return;
  var plain = word.textContent;
  function tell() {
    var count = 0, cents = 0;
    boxes.forEach(function (box) {
      if (!box.checked) return;
      count += 1;
      cents += Number(box.dataset.cents);
    });
    sentence.hidden = count === 0;
    document.querySelector("[data-marked-count]").textContent = count;
    document.querySelector("[data-marked-sum]").textContent =
      "$" + (cents / 100).toLocaleString("en-US", { minimumFractionDigits: 2 });
    word.textContent = count || plain;
  }
  boxes.forEach(function (box) { box.addEventListener("change", tell); });
  tell();
})();
