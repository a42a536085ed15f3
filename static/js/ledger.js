// Walk a ledger by arrows or j and k, open the line by Enter, mark it by the space bar; the mark stays on its line.
(function () {
  "use strict";
  var HERE = "under-cursor";
  function lines() {
    return Array.prototype.slice.call(document.querySelectorAll("table[data-walk] tbody tr[data-line]"));
  }
  function stand(line) {
    document.querySelectorAll("tr." + HERE).forEach(function (other) { other.classList.remove(HERE); });
    if (!line) return;
    line.classList.add(HERE);
    line.scrollIntoView({ block: "nearest" });
    var link = line.querySelector("a[data-open]") || line.querySelector("a");
    if (link) link.focus({ preventScroll: true });
  }
  function move(step) {
    var all = lines();
    var at = all.findIndex(function (line) { return line.classList.contains(HERE); });
    var next = at < 0 ? (step > 0 ? 0 : all.length - 1) : Math.min(all.length - 1, Math.max(0, at + step));
    stand(all[next]);
  }
  document.addEventListener("keydown", function (event) {
    if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.target.closest("input, textarea, select")) return;
    var letters = document.body.dataset.letterKeys !== "off";
    var step = { ArrowDown: 1, ArrowUp: -1 }[event.key] || (letters && { j: 1, k: -1 }[event.key]) || 0;
    if (step && lines().length) {
      event.preventDefault();
      move(step);
      return;
    }
    var line = document.querySelector("tr." + HERE);
    var mark = line && line.querySelector("input[type=checkbox]");
    if (event.key === " " && mark && !event.target.closest("button, summary")) {
      event.preventDefault();
      mark.click();
    }
  });
  // A ledger that is fetched anew keeps its line.
  var kept = null;
  document.addEventListener("htmx:beforeSwap", function () {
    var line = document.querySelector("tr." + HERE);
    kept = line ? line.dataset.line : null;
  });
  document.addEventListener("htmx:afterSwap", function () {
    if (!kept) return;
    stand(lines().find(function (line) { return line.dataset.line === kept; }));
  });
})();
