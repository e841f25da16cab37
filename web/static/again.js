// Sends the look-up again when something in it changes, and puts the new page's parts in place of the old ones. Without this the buttons do it.
(function () {
  "use strict";
  var busy = null;
  function ready() {
    var form = document.querySelector("form[data-again]");
    if (!form) return;
    form.addEventListener("submit", function (e) {
      e.preventDefault();
      send(form, e.submitter);
    });
    form.addEventListener("change", function (e) {
      if (e.target.name !== "q" && document.querySelector("#answer section")) send(form, null);
    });
  }
  function send(form, button) {
    var data = new FormData(form);
    if (button && button.name) data.append(button.name, button.value);
    if (busy) busy.abort();
    busy = new AbortController();
    var answer = document.getElementById("answer");
    answer.setAttribute("aria-busy", "true");
    fetch("/", { method: "POST", body: new URLSearchParams(data), signal: busy.signal, headers: { "Content-Type": "application/x-www-form-urlencoded" } })
      .then(function (r) { return r.text(); })
      .then(function (html) { place(html, button); })
      .catch(function (err) {
        if (err.name === "AbortError") return;
        answer.removeAttribute("aria-busy");
        form.submit(); // the plain way still works
      });
  }
  function place(html, button) {
    var next = new DOMParser().parseFromString(html, "text/html");
    var from = next.querySelector("form[data-again]");
    if (!from) { document.open(); document.write(html); document.close(); return; }
    var focus = document.activeElement && document.activeElement.name;
    var index = focus ? Array.prototype.indexOf.call(document.getElementsByName(focus), document.activeElement) : -1;
    document.querySelector("form[data-again]").replaceWith(document.adoptNode(from));
    ready();
    var again = focus && document.getElementsByName(focus)[index];
    if (button && button.name === "mark") again = document.getElementById("answer");
    if (again) { if (again.id === "answer") again.tabIndex = -1; again.focus({ preventScroll: true }); }
  }
  ready();
})();
