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
    if (headline === null) return;
    const figures = [...headline.querySelectorAll(".figure")];
    glance.textContent = figures.map((figure) => figure.textContent.trim().replace(/\s+/g, " ")).join(" · ");
    watch.observe(headline);
  };
}

function redraws(form) {
  const part = document.getElementById(form.dataset.redraws);
  const glance = glancing(part);
  glance();
  let waiting = 0;
  let asked = null;
  const redraw = async () => {
    const address = form.action + "?" + new URLSearchParams(
      [...new FormData(form)].filter(([, value]) => value !== ""));
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
      if (failure.name !== "AbortError") part.dataset.stale = "yes";
      return;
    }
    delete part.dataset.stale;
  };
  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(redraw, PAUSE_MILLISECONDS);
  });
}

for (const form of document.querySelectorAll("form[data-redraws]")) redraws(form);
sayMoments(document);
