/* What was told is kept on this device until the workbench has it.

   A form with `data-outbox` is not sent by the browser: what is in it is kept in IndexedDB, shown as a line in #kept, and sent
   in order by the one sender of this page. Every entry carries an operation id made here; the workbench counts an operation
   once, however often it arrives, so a second page that sends the same entry does no harm.
   What the device has no room for is held by this page, which says so and asks before it is left.
   Without IndexedDB the form is sent as if there were no script. Nothing here needs a secure context (https). */
"use strict";
(() => {
  const RETRY_MS = 2000, STALL_MS = 6000, DOUBLE_TAP_MS = 500, SAID_SHOWN = 2;
  const here = matchMedia("(pointer: coarse)").matches ? "this phone" : "this computer";
  const list = document.getElementById("kept");
  const lines = new Map();
  let csrf = document.querySelector('meta[name="csrf"]').content;
  let sending = false, again = 0;
  const refreshes = new Map();

  // ---- Keeping -------------------------------------------------------------------------------------------------------

  const opened = new Promise((resolve, reject) => {
    const ask = indexedDB.open("wreckwright", 1);
    ask.onupgradeneeded = () => ask.result.createObjectStore("entries", { keyPath: "n", autoIncrement: true });
    ask.onsuccess = () => resolve(ask.result);
    ask.onerror = () => reject(ask.error);
    ask.onblocked = () => reject(new Error("blocked"));
  });
  opened.catch(() => {});

  /* One transaction; resolves with what `work` asked for once it is safely written. */
  async function stored(mode, work) {
    const db = await opened;
    return new Promise((resolve, reject) => {
      const transaction = db.transaction("entries", mode, { durability: "strict" });
      const asked = work(transaction.objectStore("entries"));
      transaction.oncomplete = () => resolve(asked && asked.result);
      transaction.onabort = transaction.onerror = () => reject(transaction.error);
    });
  }
  /* Entries that could not be written down: they live as long as this page. An entry that was written has a number `n`. */
  const held = [];
  const all = async () => [...(await stored("readonly", (entries) => entries.getAll()).catch(() => [])), ...held];
  const put = (entry) => held.includes(entry) || stored("readwrite", (entries) => entries.put(entry));
  const drop = (entry) => (held.includes(entry) ? held.splice(held.indexOf(entry), 1) : stored("readwrite", (entries) => entries.delete(entry.n)));

  function newOp() {
    const bytes = crypto.getRandomValues(new Uint8Array(12));
    return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  // ---- Showing -------------------------------------------------------------------------------------------------------

  function show(entry, state, words, ...controls) {
    let line = lines.get(entry.op);
    if (!line) {
      line = document.createElement("li");
      line.append(document.createElement("span"));
      lines.set(entry.op, line);
      list.prepend(line);
    }
    line.className = state;
    line.firstChild.textContent = words;
    while (line.childNodes.length > 1) line.lastChild.remove();
    line.append(...controls);
    if (state === "stored") {
      const said = [...list.querySelectorAll("li.stored")];
      for (const old of said.slice(SAID_SHOWN)) forget(old);
    }
    list.classList.toggle("asks", list.querySelector("li.refused") !== null);
  }
  function forget(line) {
    for (const [op, other] of lines) if (other === line) lines.delete(op);
    line.remove();
    list.classList.toggle("asks", list.querySelector("li.refused") !== null);
  }
  function button(words, act) {
    const made = document.createElement("button");
    made.type = "button";
    made.className = "plain";
    made.textContent = words;
    made.addEventListener("click", act);
    return made;
  }
  const sentence = (part) => part[0].toUpperCase() + part.slice(1).replace(/\.?$/, ".");
  const lost = ({ lost: count }) => (count ? `, ${count} photograph${count > 1 ? "s" : ""} left out that could not be read` : "");
  function title(entry) {
    const at = new Date(entry.at);
    const time = String(at.getHours()).padStart(2, "0") + ":" + String(at.getMinutes()).padStart(2, "0");
    const photographs = entry.files.length ? `, ${entry.files.length} photograph${entry.files.length > 1 ? "s" : ""}` : "";
    return `${entry.says}${photographs}${lost(entry)}, ${time}`;
  }
  const waiting = (entry, more = "") =>
    show(entry, "waiting", `${title(entry)}: ${held.includes(entry) ? `no room on ${here}, leave this page open` : `kept on ${here}`}${more}`);

  function refused(entry) {
    const asked = document.querySelector('[name="settles"]')?.value.split(" ").includes(entry.op);
    const said = asked ? "Asked back on this page." : [entry.what, entry.allowed, entry.do].filter(Boolean).map(sentence).join(" ");
    const controls = [];
    if (!asked && entry.kind === "conflict") controls.push(button("Look at both", () => post(entry)));
    // The findings ask back with the nearest parts on a page; what is sent from there takes the place of this entry.
    else if (!asked && entry.kind === "entry" && entry.url.endsWith("/findings")) controls.push(button("Put it right", () => post(entry)));
    else if (!asked) controls.push(button("Send again", () => retry(entry)));
    controls.push(button("Let go", () => letGo(entry)));
    show(entry, "refused", `${title(entry)}: ${said}`, ...controls);
  }
  async function letGo(entry) {
    await drop(entry);
    if (lines.has(entry.op)) forget(lines.get(entry.op));
  }
  async function retry(entry) {
    entry.state = "kept";
    await put(entry);
    waiting(entry);
    send();
  }

  let latest = { by: null, at: -Infinity };

  // ---- Taking a form over --------------------------------------------------------------------------------------------

  document.addEventListener("submit", (event) => {
    const form = event.target.closest("form[data-outbox]");
    if (!form || event.defaultPrevented || !window.indexedDB) return;
    event.preventDefault();
    const by = event.submitter;
    // Twice on one button at once, with nothing new in the form, is a cold thumb and not two things to tell.
    const anew = [...form.elements].some((field) =>
      field.type === "file" ? field.files.length : field.matches("textarea, input[type=text]") && field.value !== field.defaultValue);
    const twice = !anew && by === latest.by && event.timeStamp - latest.at < DOUBLE_TAP_MS;
    latest = { by, at: event.timeStamp };
    if (twice) return;
    const data = new FormData(form, by);
    const entry = {
      op: newOp(), url: new URL(by?.getAttribute("formaction") || form.getAttribute("action") || "", location.href).pathname,
      at: Date.now(), state: "kept", says: words(form, by, data), refresh: form.dataset.refresh || "",
      fields: [], files: [],
    };
    for (const [name, value] of data) {
      if (typeof value === "string") {
        if (name !== "csrf" && name !== "op") entry.fields.push([name, value]);
      } else if (value.size) entry.files.push([name, value.name, value.type, value]);
    }
    show(entry, "waiting", `${title(entry)}: being kept`);
    const chosen = [...form.querySelectorAll("[data-keep]")].map((field) => [field, field.value]);
    form.reset();
    for (const [field, value] of chosen) field.value = value;
    form.dispatchEvent(new CustomEvent("kept", { bubbles: true }));
    const kept = keep(entry).finally(() => keeping.delete(kept));
    keeping.add(kept);
  });

  /* Writing a photograph down takes a moment. Whoever goes on to another page at once goes when it is done. */
  const keeping = new Set();
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href]");
    if (!link || !keeping.size || event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    event.stopPropagation();
    Promise.allSettled([...keeping]).then(() => link.dispatchEvent(new MouseEvent("click", { bubbles: true, cancelable: true })));
  }, true);
  addEventListener("beforeunload", (event) => {
    if (keeping.size || held.some((entry) => !entry.posted)) event.preventDefault();
  });

  function words(form, by, data) {
    const said = by?.dataset.says || form.dataset.says || by?.textContent.trim() || "Told";
    const note = String(data.get("note") || "").trim();
    return note ? `${said}: ${note.length > 60 ? note.slice(0, 57) + "..." : note}` : said;
  }

  async function keep(entry) {
    // Bytes, not files: a file of the telephone's camera may be gone by the time it is sent.
    const read = await Promise.all(entry.files.map(async ([name, filename, type, file]) => {
      const bytes = await file.arrayBuffer().catch(() => null);
      return bytes && [name, filename, type, bytes];
    }));
    entry.files = read.filter(Boolean);
    entry.lost = read.length - entry.files.length;
    try {
      entry.n = await put(entry);
    } catch (error) {
      // No room, or a private window that keeps nothing.
      held.push(entry);
    }
    waiting(entry);
    send();
  }

  /* Send an entry as the browser would send the form; the answer is a page. */
  function post(entry) {
    const form = document.createElement("form");
    form.hidden = true;
    for (const [name, value] of [["method", "post"], ["action", entry.url], ["enctype", "multipart/form-data"]]) form.setAttribute(name, value);
    for (const [name, value] of [["csrf", csrf], ["op", entry.op], ...entry.fields]) {
      const input = document.createElement("textarea");
      input.name = name;
      input.value = value;
      form.append(input);
    }
    for (const [name, filename, type, bytes] of entry.files) {
      const chosen = new DataTransfer();
      chosen.items.add(new File([bytes], filename, { type }));
      const input = document.createElement("input");
      input.type = "file";
      input.name = name;
      input.files = chosen.files;
      form.append(input);
    }
    document.body.append(form);
    entry.posted = true;
    // A field may be called "submit".
    HTMLFormElement.prototype.submit.call(form);
  }

  // ---- Sending -------------------------------------------------------------------------------------------------------

  async function send() {
    clearTimeout(again);
    if (sending) return;
    sending = true;
    try {
      for (let entry; (entry = await next()); ) {
        if (!(await deliver(entry))) {
          again = setTimeout(send, RETRY_MS);
          return;
        }
      }
      refresh();
    } finally {
      sending = false;
    }
  }

  /* The oldest entry that still has to go; lines of entries that another page has sent say so. */
  async function next() {
    const entries = await all();
    const left = new Set(entries.map((entry) => entry.op));
    for (const [op, line] of lines) {
      if (line.className === "waiting" && line.dataset.kept && !left.has(op)) {
        line.className = "stored";
        line.firstChild.textContent += "; sent from another page";
      }
    }
    for (const entry of entries) {
      if (!lines.has(entry.op)) entry.state === "kept" ? waiting(entry) : refused(entry);
      lines.get(entry.op).dataset.kept = "1";
    }
    return entries.find((entry) => entry.state === "kept");
  }

  /* True: this entry is settled, one way or the other. False: try again later. */
  async function deliver(entry, fresh = false) {
    const { status, answer } = await request(entry);
    if (status >= 200 && status < 300 && answer) {
      await drop(entry);
      const settles = entry.fields.find(([name]) => name === "settles")?.[1].split(" ") ?? [];
      for (const other of await all()) if (settles.includes(other.op)) await letGo(other);
      const controls = answer.change ? [undo(answer.change, entry.refresh)] : [];
      show(entry, "stored", said(entry, answer), ...controls);
      const parts = entry.refresh.split(/\s+/).filter(Boolean);
      const from = parts.find((part) => part.startsWith("/")) || "";
      for (const part of parts) if (part !== from) refreshes.set(part, from);
      return true;
    }
    if (status === 403 && answer?.kind === "stale token" && !fresh && (await freshToken())) return deliver(entry, true);
    if (answer?.what && status !== 503) {
      Object.assign(entry, { state: "refused", status, kind: answer.kind, what: answer.what, allowed: answer.allowed, do: answer.do });
      await put(entry);
      refused(entry);
      return true;
    }
    const why = answer?.what || "the workbench does not answer";
    waiting(entry, `; ${why.replace(/\.$/, "")}, trying again`);
    return false;
  }

  function said(entry, answer) {
    const at = title(entry).slice(-5);
    return `${at} ${answer.said}${lost(entry)}`;
  }

  /* XMLHttpRequest tells how an upload goes on, so that a large photograph on a slow line is not taken for a dead one. */
  function request(entry) {
    return new Promise((resolve) => {
      const http = new XMLHttpRequest();
      let timer;
      const moving = () => {
        clearTimeout(timer);
        timer = setTimeout(() => http.abort(), STALL_MS);
      };
      const done = () => {
        clearTimeout(timer);
        resolve({ status: http.status, answer: json(http.responseText) });
      };
      http.open("POST", entry.url);
      http.setRequestHeader("X-Outbox", "1");
      http.setRequestHeader("X-CSRF", csrf);
      http.setRequestHeader("X-Kept-Ms", String(Math.max(0, Date.now() - entry.at)));
      http.upload.onprogress = moving;
      http.onload = http.onerror = http.onabort = done;
      const body = new FormData();
      body.append("op", entry.op);
      for (const [name, value] of entry.fields) body.append(name, value);
      for (const [name, filename, type, bytes] of entry.files) body.append(name, new Blob([bytes], { type }), filename);
      moving();
      http.send(body);
    });
  }
  function json(text) {
    try {
      return JSON.parse(text);
    } catch {
      return null;
    }
  }

  async function freshToken() {
    try {
      const page = await (await fetch("/", { headers: { Accept: "text/html" } })).text();
      const found = new DOMParser().parseFromString(page, "text/html").querySelector('meta[name="csrf"]');
      if (!found) return false;
      csrf = found.content;
      for (const field of document.querySelectorAll('input[name="csrf"]')) field.value = csrf;
      return true;
    } catch {
      return false;
    }
  }

  function undo(change, refreshes = "") {
    const form = document.getElementById("undo-form").content.firstElementChild.cloneNode(true);
    form.querySelector('[name="csrf"]').value = csrf;
    form.querySelector('[name="change"]').value = change;
    form.dataset.refresh = `#heap-count #heap #moving ${refreshes}`;
    return form;
  }

  /* Bring parts of this page up to date, each by its selector (`data-refresh="#heap #count /from/this/address"`; without an
     address from that of the page), unless somebody is typing in it. */
  function refresh() {
    for (const [part, from] of refreshes) {
      const target = document.querySelector(part);
      if (!target || !window.htmx || (target.contains(document.activeElement) && document.activeElement.matches("input, textarea, select"))) continue;
      // Each for its own element: of those for one and the same, htmx drops all but the last.
      htmx.ajax("GET", from || location.pathname + location.search, { source: target, target, select: part, swap: "outerHTML" }).catch(() => {});
    }
    refreshes.clear();
  }

  // ---- Beginning -----------------------------------------------------------------------------------------------------

  async function begin() {
    if (!window.indexedDB) return;
    const settled = document.querySelector('meta[name="settled"]')?.content;
    try {
      for (const entry of await all()) {
        if (entry.op === settled) await drop(entry);
        // Not let in then, or no such machine: perhaps now, as when a change that took it away was taken back.
        else if (entry.status === 403 || entry.status === 404) await put({ ...entry, state: "kept", status: 0 });
      }
    } catch {
      return;
    }
    navigator.storage?.persist?.();
    send();
  }
  addEventListener("online", send);
  document.addEventListener("visibilitychange", () => document.hidden || send());
  begin();
})();
