"use strict";
// Pages are whole without this file. With it, a form is sent once however quickly its button is
// pressed, waits count down, and a page shows itself anew when something changed.
(() => {
  let typed = false;
  let leaving = false;
  // A form without an answer for so long may be sent again.
  const LOST_AFTER_MS = 10000;
  document.addEventListener("input", () => { typed = true; });

  document.addEventListener("submit", (event) => {
    const form = event.target;
    const button = event.submitter;
    // Whoever is hurt waits for nothing that hangs in a dead spot.
    if (form.dataset.sent && button?.value !== "hurt") {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    // What the form leads to is shown next; news of its own effect must not get in the way.
    leaving = true;
    // The pressed button must still be in what is sent, so it is only switched off afterwards.
    setTimeout(() => button?.setAttribute("aria-busy", "true"), 0);
    // Still here: it may be lost. Sent again it is the same input to the server.
    setTimeout(() => {
      delete form.dataset.sent;
      leaving = false;
      button?.removeAttribute("aria-busy");
    }, LOST_AFTER_MS);
  });
  // A page that the browser kept from before may be old: it is asked for again.
  window.addEventListener("pageshow", (event) => {
    if (event.persisted) { location.reload(); }
  });

  // The page itself, also where a refused answer is shown in its place.
  const news = document.body.dataset.news;
  const here = news ? news.replace(/\/news$/, "") || "/" : location.href;

  const show = () => {
    if (leaving || document.getElementById("changed")) { return; }
    if (!typed) {
      location.replace(here);
      return;
    }
    const note = document.createElement("p");
    note.id = "changed";
    note.className = "note warning";
    note.setAttribute("role", "status");
    const link = document.createElement("a");
    link.href = here;
    link.textContent = "Show it";
    note.append("Something changed on this page. ", link, ".");
    document.getElementById("main").prepend(note);
  };

  const share = document.getElementById("share");
  if (share) { share.textContent = share.href; }

  // Nothing of a list moves under a finger: what changed is shown when nobody touched it for long.
  const UNTOUCHED_MS = 15000;
  let touched = 0;
  let gathers = false;
  for (const kind of ["pointerdown", "keydown", "scroll"]) {
    document.addEventListener(kind, () => { touched = performance.now(); }, { capture: true });
  }
  const gather = () => {
    const left = touched + UNTOUCHED_MS - performance.now();
    gathers = left > 0;
    if (gathers) { setTimeout(gather, left); } else { show(); }
  };

  if (news && window.EventSource) {
    const revision = document.querySelector("input[name=revision]");
    let lines = null;
    const changed = (event) => {
      if (revision) {
        if (event.data !== revision.value) { show(); }
      } else if (!gathers) {
        gathers = true;
        setTimeout(gather, UNTOUCHED_MS);
      }
    };
    const listen = () => {
      lines = new EventSource(news);
      lines.addEventListener("changed", changed);
    };
    if (!document.hidden) { listen(); }
    // A browser has few lines to one server: a page that nobody sees keeps none of them.
    document.addEventListener("visibilitychange", () => {
      lines?.close();
      if (document.hidden) { return; }
      // A job says first where it stands; what became of a list meanwhile nobody says.
      if (!revision) { show(); }
      listen();
    });
    window.addEventListener("pagehide", () => lines?.close());
  }

  const words = (seconds) => {
    const [h, m, s] = [Math.floor(seconds / 3600), Math.floor((seconds % 3600) / 60), seconds % 60];
    if (h > 0) { return `${h} h ${m} min`; }
    if (m > 0) { return s > 0 ? `${m} min ${s} s` : `${m} min`; }
    return `${s} s`;
  };
  const wait = document.querySelector("[data-until]");
  if (wait) {
    // The time to go is the server's; the phone's own clock may be wrong.
    const until = performance.now() + Number(wait.dataset.until) - Number(wait.dataset.now);
    const tick = () => {
      const seconds = Math.ceil((until - performance.now()) / 1000);
      wait.querySelector("strong").textContent = words(Math.max(seconds, 0));
      if (seconds <= -2) {
        clearInterval(ticks);
        show();
      }
    };
    const ticks = setInterval(tick, 1000);
    tick();
  }
})();
