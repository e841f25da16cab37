// Sends a form marked data-again when something in it changes, and puts the parts of the new page (data-part, by id) in place of the old
// ones. Without this the buttons do it.
(function () {
  "use strict";
  var busy = null;
  function ready() {
    var form = document.querySelector("form[data-again]");
    if (!form) return;
    form.addEventListener("submit", function (e) {
      if (e.submitter && e.submitter.hasAttribute("formaction") || hasFile(form)) return;
      e.preventDefault();
      send(form, e.submitter);
    });
    form.addEventListener("change", function (e) {
      if (e.target.name !== "q" && !hasFile(form) && (form.hasAttribute("data-live") || document.querySelector("#answer section"))) send(form, null);
    });
  }
  function hasFile(form) {
    return Array.prototype.some.call(form.querySelectorAll("[type=file]"), function (f) { return f.value !== ""; });
  }
  function send(form, button) {
    var data = new FormData(form);
    form.querySelectorAll("[type=file]").forEach(function (f) { data.delete(f.name); });
    if (button && button.name) data.append(button.name, button.value);
    if (busy) busy.abort();
    busy = new AbortController();
    var answer = document.getElementById("answer");
    answer.setAttribute("aria-busy", "true");
    fetch(form.getAttribute("action"), { method: "POST", body: new URLSearchParams(data), signal: busy.signal, headers: { "Content-Type": "application/x-www-form-urlencoded" } })
      .then(function (r) {
        if (r.redirected && new URL(r.url).pathname !== location.pathname) { location.assign(r.url); return; }
        return r.text().then(function (html) { place(html, button); });
      })
      .catch(function (err) {
        if (err.name === "AbortError") return;
        answer.removeAttribute("aria-busy");
        form.submit(); // the plain way still works
      });
  }
  function place(html, button) {
    var next = new DOMParser().parseFromString(html, "text/html");
    if (!next.querySelector("form[data-again]")) { document.open(); document.write(html); document.close(); return; }
    var at = document.activeElement, focus = at && at.name;
    var index = focus ? Array.prototype.indexOf.call(document.getElementsByName(focus), at) : -1;
    document.querySelectorAll("[data-part]").forEach(function (old) {
      var part = next.getElementById(old.id);
      if (part) old.replaceWith(document.adoptNode(part));
    });
    var leading = document.getElementById("leading");
    document.getElementById("told").textContent = leading ? leading.textContent : "";
    ready();
    var again = focus && document.getElementsByName(focus)[index];
    if (button && button.name === "mark") again = document.getElementById("answer");
    if (again) { if (again.id === "answer") again.tabIndex = -1; again.focus({ preventScroll: true }); }
  }
  ready();
})();
