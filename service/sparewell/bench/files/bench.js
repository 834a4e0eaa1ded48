// Redraws the answer while readings are typed, and says moments in the zone of this browser.
// Everything on these pages works without it.
"use strict";

const PAUSE_MILLISECONDS = 250;

function sayMoments(root) {
  const sameDay = (one, other) => one.toDateString() === other.toDateString();
  for (const time of root.querySelectorAll("time")) {
    const moment = new Date(time.dateTime);
    const clock = { hour: "2-digit", minute: "2-digit", hour12: false };
    const full = { weekday: "short", day: "numeric", month: "short", year: "numeric", ...clock };
    time.textContent = moment.toLocaleString("en-GB", sameDay(moment, new Date()) ? clock : full);
  }
}

// The answer at a glance above the pages, for as long as its large figures are out of sight.
function glancing(part) {
  const glance = document.createElement("a");
  glance.className = "glance";
  glance.href = "#" + part.id;
  glance.hidden = true;
  document.querySelector("main").append(glance);
  const watch = new IntersectionObserver(([seen]) => { glance.hidden = seen.isIntersecting; });
  return () => {
    watch.disconnect();
    glance.hidden = true;
    const headline = part.querySelector(".headline");
    if (headline === null || part.dataset.stale) return;
    const figures = [...headline.querySelectorAll(".figure")];
    glance.textContent = figures.map((figure) => figure.textContent.trim().replace(/\s+/g, " ")).join(" · ");
    watch.observe(headline);
  };
}

// A number that could not be worked out anew is not left standing as if it were the answer.
function sayStale(part) {
  part.dataset.stale = "yes";
  part.querySelector(".stale")?.remove();
  const words = document.createElement("p");
  words.className = "problem stale";
  words.setAttribute("role", "alert");
  words.textContent = "No connection: this could not be worked out for what stands in the fields now. "
    + "It is tried again when you type, or when the connection is back.";
  part.prepend(words);
}

function redraws(form) {
  const part = document.getElementById(form.dataset.redraws);
  const glance = glancing(part);
  glance();
  let waiting = 0;
  let asked = null;
  const whom = document.querySelector("#for-whom select[name=job]");
  const redraw = async () => {
    const typed = new FormData(form);
    if (whom !== null) typed.set("job", whom.value);
    const address = form.action + "?" + new URLSearchParams(
      [...typed].filter(([, value]) => value !== ""));
    asked?.abort();
    asked = new AbortController();
    try {
      const answer = await fetch(address, {
        headers: { "Sparewell-Part": part.id }, signal: asked.signal, redirect: "error" });
      part.innerHTML = await answer.text();
      history.replaceState(null, "", address);
      sayMoments(part);
      glance();
    } catch (failure) {
      if (failure.name !== "AbortError") {
        sayStale(part);
        glance();
      }
      return;
    }
    delete part.dataset.stale;
  };
  window.addEventListener("online", () => { if (part.dataset.stale) redraw(); });
  whom?.addEventListener("change", redraw);
  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(redraw, PAUSE_MILLISECONDS);
  });
}

// A picture that is too large is told before it is sent, so that the note beside it stays.
function watchesSize(field) {
  const fault = document.getElementById("picture-fault");
  const most = Number(field.dataset.mostBytes);
  field.addEventListener("change", () => {
    const isLarge = [...field.files].some((file) => file.size > most);
    fault.hidden = !isLarge;
    field.setCustomValidity(isLarge ? fault.textContent : "");
  });
}

for (const field of document.querySelectorAll("input[data-most-bytes]")) watchesSize(field);
for (const form of document.querySelectorAll("form[data-redraws]")) redraws(form);
sayMoments(document);
