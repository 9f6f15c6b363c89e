"use strict";
// The bench for flows is whole without this file. With it, what is found stands beside the lines
// while somebody types, and a trial opens beside the text.
(() => {
  const text = document.getElementById("text");
  const sheet = document.getElementById("sheet");
  if (!text || !sheet) { return; }
  const numbers = document.getElementById("numbers");
  const margin = document.getElementById("margin");
  const findings = document.getElementById("findings");
  const changes = document.getElementById("changes");
  const PAUSE_MS = 350;
  sheet.classList.add("live");

  const lineHeight = () => parseFloat(getComputedStyle(text).lineHeight);

  const count = () => {
    const written = text.value.split("\n");
    const lines = written.length;
    text.rows = lines + 1;
    text.cols = Math.max(...written.map((line) => line.length)) + 2;
    // The sheet scrolls, not the text within it, so that numbers and notes stay beside it.
    margin.style.height = `${text.offsetHeight}px`;
    while (numbers.children.length > lines) { numbers.lastChild.remove(); }
    while (numbers.children.length < lines) {
      const number = document.createElement("li");
      number.textContent = numbers.children.length + 1;
      numbers.append(number);
    }
  };

  const goTo = (line) => {
    const before = text.value.split("\n").slice(0, line - 1).join("\n");
    const at = before.length + (line > 1 ? 1 : 0);
    text.focus({ preventScroll: true });
    text.setSelectionRange(at, at);
    sheet.scrollTop = Math.max(0, (line - 4) * lineHeight());
    sheet.scrollIntoView({ block: "nearest" });
  };

  const part = (tag, words, kind) => {
    const made = document.createElement(tag);
    made.textContent = words;
    if (kind) { made.className = kind; }
    return made;
  };

  const findingLine = (finding) => {
    const line = part("li", "", finding.grade);
    const link = part("a", `Line ${finding.line}`);
    link.href = "#text";
    link.dataset.line = finding.line;
    line.append(link, ": ", part("strong", `${finding.grade}.`));
    line.append(` ${finding.wrong} ${finding.mend}`);
    if (finding.walk) { line.append(" ", part("span", `Shown by: ${finding.walk}`, "quiet")); }
    return line;
  };

  const list = (place, kind, lines, nothing) => {
    if (lines.length === 0) {
      place.replaceChildren(part("p", nothing, "quiet"));
      return;
    }
    const made = part("ul", "", kind);
    made.append(...lines);
    place.replaceChildren(made);
  };

  const besideLines = (found) => {
    for (const number of numbers.children) { number.className = ""; }
    margin.replaceChildren();
    let free = 0;
    for (const finding of found) {
      const number = numbers.children[finding.line - 1];
      if (number && number.className !== "error") { number.className = finding.grade; }
      const note = part("p", finding.wrong, finding.grade);
      margin.append(note);
      const top = Math.max((finding.line - 1) * lineHeight(), free);
      note.style.top = `${top}px`;
      free = top + note.offsetHeight + 2;
    }
  };

  const changeLine = (change) => {
    const line = part("li", "", change.safety ? "safety" : "");
    if (change.safety) { line.append(part("strong", "Safety:"), " "); }
    line.append(change.line);
    return line;
  };

  // The diagram of what is typed. While it cannot be read, the last one stays.
  const drawn = document.getElementById("drawn");
  const diagram = document.getElementById("diagram");
  let picture;
  const draw = async (body, isLast) => {
    let made;
    try {
      const answer = await fetch("/flows/draw", { method: "POST", body });
      if (!answer.ok) { return; }
      made = await answer.blob();
    } catch {
      return;
    }
    if (!isLast()) { return; }
    if (picture) { URL.revokeObjectURL(picture); }
    picture = URL.createObjectURL(made);
    diagram.src = picture;
    document.getElementById("diagram-large").href = picture;
    drawn.hidden = false;
  };

  let asked = 0;
  const look = async () => {
    asked += 1;
    const mine = asked;
    const body = new URLSearchParams({ file: text.dataset.file, text: text.value });
    let looked;
    try {
      const answer = await fetch("/flows/look", { method: "POST", body });
      if (!answer.ok) { return; }
      looked = await answer.json();
    } catch {
      return;
    }
    // Somebody typed on while this look was under way: the next one counts.
    if (mine !== asked) { return; }
    list(findings, "findings", looked.findings.map(findingLine), "Nothing in this file.");
    list(changes, "changes", looked.differences.map(changeLine), "Nothing yet.");
    besideLines(looked.findings);
    if (looked.is_whole) { draw(body, () => mine === asked); }
  };

  let pause;
  text.addEventListener("input", () => {
    count();
    clearTimeout(pause);
    pause = setTimeout(look, PAUSE_MS);
  });
  text.addEventListener("keydown", (event) => {
    // Tab still leaves the field; two spaces come with Ctrl and the right bracket.
    if (event.key === "]" && event.ctrlKey) {
      event.preventDefault();
      text.setRangeText("  ", text.selectionStart, text.selectionEnd, "end");
      text.dispatchEvent(new Event("input"));
    }
  });
  findings.addEventListener("click", (event) => {
    const line = event.target.closest("[data-line]");
    if (line) {
      event.preventDefault();
      goTo(Number(line.dataset.line));
    }
  });

  // The trial beside the text, where there is room for it.
  const trial = document.getElementById("trial");
  const button = document.getElementById("try");
  button.addEventListener("click", () => {
    if (!window.matchMedia("(min-width: 64rem)").matches) { return; }
    let frame = trial.querySelector("iframe");
    if (!frame) {
      frame = document.createElement("iframe");
      frame.name = "trial";
      frame.title = "Try the flow";
      trial.append(frame);
    }
    trial.hidden = false;
    button.form.target = "trial";
    // Once it is sent, the form is as before: it may be sent again.
    setTimeout(() => {
      button.form.target = "";
      delete button.form.dataset.sent;
      button.removeAttribute("aria-busy");
      trial.scrollIntoView({ block: "nearest" });
    }, 100);
  });

  count();
  look();
})();
