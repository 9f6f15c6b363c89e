"use strict";
// Pages are whole without this file. With it, a form is sent once however often its button is
// pressed, waits count down, and a page shows itself anew when something changed.
(() => {
  let typed = false;
  let leaving = false;
  document.addEventListener("input", () => { typed = true; });

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    // What the form leads to is shown next; news of its own effect must not get in the way.
    leaving = true;
    const button = event.submitter;
    // The pressed button must still be in what is sent, so it is only switched off afterwards.
    setTimeout(() => {
      if (button) { button.setAttribute("aria-busy", "true"); }
    }, 0);
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

  if (news && window.EventSource) {
    const lines = new EventSource(news);
    const revision = document.querySelector("input[name=revision]");
    lines.addEventListener("changed", (event) => {
      if (!revision || event.data !== revision.value) { show(); }
    });
    window.addEventListener("pagehide", () => lines.close());
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
