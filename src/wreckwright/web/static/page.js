/* Small comforts; every page works without them. */
"use strict";
(() => {
  // A chosen photograph is named where it was chosen.
  function named(input) {
    const label = input.closest(".photo");
    const words = label?.querySelector(".photo-words");
    if (!words) return;
    const count = input.files.length;
    label.classList.toggle("chosen", count > 0);
    words.textContent = count === 0 ? words.dataset.empty : count === 1 ? "1 photo chosen" : `${count} photos chosen`;
  }
  document.addEventListener("change", (event) => {
    if (event.target.matches('input[type="file"]')) named(event.target);
  });

  // "Don't know" and an answer exclude one another.
  document.addEventListener("change", (event) => {
    const box = event.target;
    if (box.type !== "checkbox" || !box.checked) return;
    const alone = Boolean(box.closest("[data-alone]"));
    for (const other of box.closest("fieldset")?.querySelectorAll('input[type="checkbox"]') ?? []) {
      if (other !== box && (alone || other.closest("[data-alone]"))) other.checked = false;
    }
  });

  // After a form was kept it is ready for the next: nothing chosen, nothing open.
  document.addEventListener("kept", (event) => {
    for (const input of event.target.querySelectorAll('input[type="file"]')) named(input);
    for (const open of event.target.querySelectorAll("details[open]")) open.open = false;
  });

  // What a form asks next (`data-then`: its selector) is looked at as soon as it is there.
  let then = "";
  document.addEventListener("kept", (event) => {
    then = event.target.dataset.then || "";
  });
  document.addEventListener("htmx:afterSwap", () => {
    const next = then && document.querySelector(then);
    if (!next) return;
    then = "";
    next.scrollIntoView({ block: "start" });
  });

  // Opening the line for words puts the cursor into it.
  document.addEventListener("toggle", (event) => {
    if (event.target.matches(".words[open]")) event.target.querySelector("input").focus({ preventScroll: true });
  }, true);

  // A click elsewhere, or Escape, closes the list of ways.
  const ways = document.querySelector(".ways");
  document.addEventListener("click", (event) => {
    if (ways?.open && !ways.contains(event.target)) ways.open = false;
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && ways?.open) {
      ways.open = false;
      ways.querySelector("summary").focus();
    }
  });

  // Back in a form that was sent already: what is sent from it now is something new.
  addEventListener("pageshow", (event) => {
    const again = event.persisted || performance.getEntriesByType("navigation")[0]?.type === "back_forward";
    if (!again) return;
    for (const field of document.querySelectorAll('input[name="op"]')) {
      field.value = Array.from(crypto.getRandomValues(new Uint8Array(8)), (byte) => byte.toString(16).padStart(2, "0")).join("");
    }
  });

  // A part of a picture is a link, but none that htmx keeps from being followed as well.
  document.addEventListener("click", (event) => {
    if (window.htmx && event.target.closest("svg a[hx-get]")) event.preventDefault();
  });

  // A tap that gets no answer is not passed over in silence.
  const asked = (event) => event.detail.elt.matches?.("a[hx-get]");
  for (const gone of ["htmx:sendError", "htmx:timeout"]) {
    document.addEventListener(gone, (event) => {
      if (!asked(event)) return;
      const words = document.createElement("p");
      words.className = "refused";
      words.setAttribute("role", "alert");
      words.textContent = "The workbench does not answer. What is told is kept here and sent later; to see more, tap again in a while.";
      const place = document.getElementById("refused");
      place.replaceChildren(words);
      place.scrollIntoView({ block: "nearest" });
    });
  }
  document.addEventListener("htmx:beforeRequest", (event) => asked(event) && document.getElementById("refused").replaceChildren());

  // What somebody is typing in is not taken away from under the cursor; the next asking brings it.
  const TYPED = "textarea, select, input:not([type=hidden], [type=checkbox], [type=radio], [type=file])";
  function beingTyped(part) {
    const field = document.activeElement;
    if (!field?.matches(TYPED) || !part.contains(field) || field === part) return false;
    return field.matches("select") || field.value !== field.defaultValue;
  }
  document.addEventListener("htmx:beforeSwap", (event) => {
    if (event.detail.xhr.status < 400 && beingTyped(event.detail.target)) event.detail.shouldSwap = false;
  });

  // What was opened in a part of a page stays open when that part is brought up to date.
  let opened = [];
  const lids = (part) => [...part.querySelectorAll("details")].map((one) => [one, one.querySelector("summary")?.textContent]);
  document.addEventListener("htmx:beforeSwap", (event) => {
    opened = lids(event.detail.target).filter(([one]) => one.open).map(([, words]) => words);
  });
  document.addEventListener("htmx:afterSwap", (event) => {
    for (const [one, words] of lids(document)) if (opened.includes(words)) one.open = true;
    opened = [];
  });

  // An error that comes back into a part of a page is shown at its top.
  document.addEventListener("htmx:beforeSwap", (event) => {
    if (event.detail.xhr.status >= 400) {
      event.detail.shouldSwap = true;
      event.detail.isError = false;
      event.detail.target = document.getElementById("refused");
      event.detail.swapOverride = "innerHTML";
    }
  });
})();
