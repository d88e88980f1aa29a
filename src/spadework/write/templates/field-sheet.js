// Everything on the page that is a length carries its metres; this prints it in the chosen unit, works out rods or
// drops for today's set-up, and keeps what is typed. Lengths are metres inside.
const FOOT = 0.3048, CUBIC_YARD = 0.9144 ** 3;
const NO_BREAK = "\u00a0";

// Metres of what was typed, or a text that says what is wrong.
function parseReading(text, unit) {
  const plain = text.trim().replace(/[’′]/g, "'").replace(/[”″“]|''/g, '"').replace(",", ".");
  if (unit !== "ft-in") {
    if (!/^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain)) {
      return unit === "m" ? "Write metres, such as 1.325" : "Write feet and decimals, such as 4.35";
    }
    return Number(plain) * (unit === "m" ? 1 : FOOT);
  }
  const wrong = "Write feet and inches, such as 4' 4 1/8\"";
  const found = /^(-)?\s*(?:(\d+)\s*')?\s*-?\s*(?:(\d+(?:\.\d+)?)?(?:\s*[ -]?\s*(\d+)\/(\d+))?\s*("?))$/.exec(plain);
  if (!found) return wrong;
  let [, minus, feet, whole, over, under, mark] = found;
  if (whole === undefined && over === undefined && feet === undefined) return wrong;
  if (feet === undefined && !mark) return wrong + ": a bare number could be either";
  if (over !== undefined && Number(under) === 0) return wrong;
  const inches = Number(whole || 0) + (over === undefined ? 0 : Number(over) / Number(under));
  if (feet !== undefined && inches >= 12) return "There are 12 inches in a foot: write " + wrong.slice(6);
  return (minus ? -1 : 1) * (Number(feet || 0) * FOOT + (inches * FOOT) / 12);
}

// Text of metres in a unit: 3 decimals, 2 decimals, or eighths of an inch that carry. How: "sign", "bare", "short";
// "rough" to a tenth or an inch, "fine" to a tenth of a millimetre, a thousandth of a foot, a sixteenth of an inch.
function printLength(metres, unit, how = "") {
  const sign = how.includes("sign"), short = how.includes("short");
  if (how === "rough" || how === "fine") return printRoughOrFine(metres, unit, how === "fine");
  if (unit !== "ft-in") {
    let words = unit === "m" ? rounded(metres, 3) : rounded(metres / FOOT, 2);
    if (sign && metres > 0 && /[1-9]/.test(words)) words = "+" + words;
    if (short) words = words.replace(/\.?0+$/, "");
    return how.includes("bare") ? words : words + " " + unit;
  }
  const eighths = countEighths(metres), feet = Math.floor(eighths / 96), inches = eighthsText(eighths % 96, true);
  const before = eighths === 0 ? "" : metres < 0 ? "-" : sign ? "+" : "";
  return before + feet + "'" + (short && inches === "0" ? "" : " " + inches + '"');
}

function printRoughOrFine(metres, unit, fine) {
  if (unit === "m") return fine ? rounded(1000 * metres, 1) + " mm" : rounded(metres, 1) + " m";
  if (unit === "ft") return rounded(metres / FOOT, fine ? 3 : 1) + " ft";
  const parts = fine ? 16 : 1, steps = Math.floor(Number(((metres / FOOT) * 12 * parts).toFixed(9)) + 0.5);
  const feet = Math.floor(steps / (12 * parts)), inches = Math.floor((steps % (12 * parts)) / parts);
  let rest = steps % parts, under = parts;
  while (rest > 0 && rest % 2 === 0) { rest /= 2; under /= 2; }
  return feet + "' " + inches + (rest > 0 ? " " + rest + "/" + under : "") + '"';
}

function countEighths(metres) {
  return Math.floor(Number(((Math.abs(metres) / FOOT) * 96).toFixed(9)) + 0.5);
}

function eighthsText(eighths, keepZero) {
  const whole = Math.floor(eighths / 8), rest = eighths % 8;
  if (rest === 0) return String(whole);
  const part = rest % 4 === 0 ? rest / 4 + "/2" : rest % 2 === 0 ? rest / 2 + "/4" : rest + "/8";
  return whole > 0 || keepZero ? whole + " " + part : part;
}

// What is written on a stake: C 0.35, F 0.20 or GRADE; nothing where the ground is not known.
function printMark(depth, unit) {
  if (Number.isNaN(depth)) return "";
  const step = unit === "m" ? 0.01 : unit === "ft" ? FOOT / 100 : FOOT / 96;
  if (Math.abs(depth) <= step / 2) return "GRADE";
  const size = Math.abs(depth);
  let words = unit === "m" ? rounded(size, 2) : unit === "ft" ? rounded(size / FOOT, 2) : printLength(size, unit);
  if (words.startsWith("0'")) words = eighthsText(countEighths(size), false) + '"';
  return (depth > 0 ? "C " : "F ") + words;
}

function printVolume(cubic, unit, how) {
  const words = rounded(unit === "m" ? cubic : cubic / CUBIC_YARD, parseInt(how, 10));
  return how.includes("bare") ? words : words + (unit === "m" ? " m³" : " yd³");
}

// Rounded as on paper: what ends in 5 goes up. Two readings added leave dust far behind the decimals: off with it.
function rounded(value, decimals) {
  const scale = 10 ** decimals;
  const steps = Math.floor(Number((Math.abs(value) * scale).toFixed(6)) + 0.5);
  return (value < 0 && steps > 0 ? "-" : "") + (steps / scale).toFixed(decimals);
}

// A field of a comma-separated file: quoted where it must be, and on one line.
function csvField(text) {
  const plain = text.replace(/\s+/g, " ").trim();
  return /[",#]/.test(plain) ? '"' + plain.replace(/"/g, '""') + '"' : plain;
}

// The readings of one stage as text. Feet of both kinds go out as decimal feet, which can be read one way only.
function exportText(sheet, stage, entry, unit) {
  const metric = unit === "m", label = metric ? "m" : "ft";
  const number = (metres) => (metric ? metres.toFixed(4) : (metres / FOOT).toFixed(4));
  const typed = (box) => {
    const metres = box && box.text ? parseReading(box.text, box.unit) : NaN;
    return typeof metres === "number" ? metres : NaN;
  };
  const lines = ["# site: " + sheet.site.replace(/\s+/g, " "), "# plan of: " + sheet.date, "# units: " + label, "# stage: " + stage];
  const set = setUp(sheet, entry);
  const drops = set.line !== null;
  if (drops) lines.push("# line: " + number(set.line) + " " + label);
  else if (set.hi !== null) lines.push("# bench: " + sheet.benchName + " reading " + number(typed(entry.reading)));
  lines.push("stake," + (drops ? "drop" : "rod") + ",note");
  for (const stake of sheet.stakes) {
    const found = entry.found[stake.name] || {}, metres = typed(found.rod);
    if (!Number.isNaN(metres)) lines.push([stake.name, number(metres), csvField(found.note || "")].join(","));
    else if (found.note) lines.push("# note on " + stake.name + ": " + found.note.replace(/\s+/g, " "));
  }
  return lines.join("\n") + "\n";
}

// Where the line of sight or the string is today: hi, what is wrong with what was typed, and the level of a line that
// readings are drops from (a string, or an instrument without a bench mark).
function setUp(sheet, entry) {
  const string = entry.mode === "string", box = string ? entry.height : entry.reading;
  const nothing = { hi: !string ? sheet.hi : null, wrong: "", line: null };
  if (!box || !box.text.trim()) return nothing;
  const metres = parseReading(box.text, box.unit);
  if (typeof metres === "string") return { hi: null, wrong: metres, line: null };
  if (string) {
    const level = metres + (entry.over === "bench" && sheet.bench !== null ? sheet.bench : sheet.finish);
    return { hi: level, wrong: "", line: level };
  }
  return sheet.bench === null ? { hi: metres, wrong: "", line: metres } : { hi: sheet.bench + metres, wrong: "", line: null };
}

if (typeof document !== "undefined") {
  const all = (selector) => [...document.querySelectorAll(selector)];
  const at = (id) => document.getElementById(id);
  const blank = (like) => ({ mode: SHEET.mode, over: SHEET.bench === null ? "finish" : "bench", reading: null, height: null, ...like, found: {} });
  let state = { unit: SHEET.unit, stage: SHEET.stages[0].name, set: {}, stages: {} };
  let keeps = true;

  const entry = () => (state.stages[state.stage] ||= blank({}));
  const chosen = (name, value) => { const box = at(name + "-" + value); if (box) box.checked = true; };

  function load() {
    try {
      const found = JSON.parse(localStorage.getItem(SHEET.key) || "null");
      if (found && found.stages && SHEET.stages.some((stage) => stage.name === found.stage)) state = found;
    } catch (error) {
      keeps = false;
    }
  }

  function keep() {
    try {
      localStorage.setItem(SHEET.key, JSON.stringify(state));
    } catch (error) {
      keeps = false;
    }
    at("kept").textContent = keeps ? "" : "This browser keeps nothing: save the readings before you close the page.";
    at("export").value = exportText(SHEET, state.stage, entry(), state.unit);
  }

  // What was typed, as it was typed; in another unit as that unit prints it.
  function show(box, typed) {
    if (!typed) { box.value = ""; return; }
    const metres = parseReading(typed.text, typed.unit);
    const same = typed.unit === state.unit || typeof metres === "string";
    box.value = same ? typed.text : printLength(metres, state.unit, "bare");
  }

  function showUnits() {
    for (const cell of all(".len")) cell.textContent = printLength(Number(cell.dataset.m), state.unit, cell.dataset.how).replace(/ /g, NO_BREAK);
    for (const cell of all(".mark")) cell.textContent = printMark(Number(cell.dataset.m), state.unit).replace(/ /g, NO_BREAK);
    for (const cell of all(".vol")) cell.textContent = printVolume(Number(cell.dataset.m), state.unit, cell.dataset.how).replace(/ /g, NO_BREAK);
    for (const cell of all(".unit")) cell.textContent = state.unit.replace("-", "\u2011");
    for (const cell of all(".volunit")) cell.textContent = state.unit === "m" ? "m³" : "yd³";
    for (const cell of all(".unitwords")) cell.textContent = { m: "metres", ft: "feet and decimals of a foot", "ft-in": "feet and inches" }[state.unit];
    for (const note of all(".drawn")) note.hidden = state.unit === SHEET.unit;
  }

  function showSetUp() {
    const now = entry(), string = now.mode === "string", { hi, wrong } = setUp(SHEET, now);
    for (const part of all(".for-rod")) part.hidden = string;
    for (const part of all(".for-string")) part.hidden = !string;
    for (const part of all(".word")) part.textContent = string ? part.dataset.string : part.dataset.rod;
    at("hi").textContent = wrong || (hi === null ? "" : (string ? "String at " : "HI ") + printLength(hi, state.unit));
    for (const cell of all(".rod")) {
      const rod = hi === null ? null : hi - Number(cell.dataset.level);
      const above = string ? "above string" : "above sight";
      cell.textContent = rod === null ? "" : rod < 0 ? above : printLength(rod, state.unit).replace(/ /g, NO_BREAK);
    }
    const wanted = SHEET.stages.find((stage) => stage.name === state.stage).level;
    SHEET.stakes.forEach((stake, row) => {
      const out = at("off-" + row);
      if (!out) return;
      const found = (now.found[stake.name] || {}).rod;
      const metres = found && found.text.trim() ? parseReading(found.text, found.unit) : null;
      const should = wanted === null ? stake.stripped : wanted;
      if (metres === null) out.textContent = "";
      else if (typeof metres === "string") out.textContent = metres;
      else if (hi === null) out.textContent = "type today's reading first";
      else {
        const off = hi - metres - should, words = printLength(Math.abs(off), state.unit);
        out.textContent = /[1-9]/.test(words) ? words + (off > 0 ? " high" : " low") : "right";
      }
    });
  }

  function showAll() {
    const now = entry();
    chosen("unit", state.unit);
    chosen("mode", now.mode);
    chosen("over", now.over);
    at("stage").value = state.stage;
    show(at("reading"), now.reading);
    show(at("height"), now.height);
    SHEET.stakes.forEach((stake, row) => {
      const found = now.found[stake.name] || {};
      at("set-" + row).checked = Boolean(state.set[stake.name]);
      at("note-" + row).value = found.note || "";
      if (at("found-" + row)) show(at("found-" + row), found.rod);
    });
    showUnits();
    showSetUp();
    keep();
  }

  const changed = () => { showSetUp(); keep(); };
  const typed = (box) => (box.value.trim() ? { text: box.value, unit: state.unit } : null);

  for (const box of all("[name=unit]")) box.addEventListener("change", () => { state.unit = box.value; showAll(); });
  for (const name of ["mode", "over"]) {
    for (const box of all("[name=" + name + "]")) box.addEventListener("change", () => { entry()[name] = box.value; changed(); });
  }
  for (const name of ["reading", "height"]) at(name).addEventListener("input", () => { entry()[name] = typed(at(name)); changed(); });
  at("stage").addEventListener("change", () => {
    const { mode, over, reading, height } = entry();
    state.stage = at("stage").value;
    state.stages[state.stage] ||= blank({ mode, over, reading, height });
    showAll();
  });
  SHEET.stakes.forEach((stake, row) => {
    const found = () => (entry().found[stake.name] ||= {});
    at("set-" + row).addEventListener("change", () => { state.set[stake.name] = at("set-" + row).checked; keep(); });
    at("note-" + row).addEventListener("input", () => { found().note = at("note-" + row).value; keep(); });
    if (at("found-" + row)) at("found-" + row).addEventListener("input", () => { found().rod = typed(at("found-" + row)); changed(); });
  });
  at("save").addEventListener("click", () => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([at("export").value], { type: "text/csv" }));
    link.download = "readings-" + state.stage.replace(/\W+/g, "-") + ".csv";
    link.click();
    URL.revokeObjectURL(link.href);
  });
  at("copy").addEventListener("click", () => {
    at("export").focus();
    at("export").select();
    let copied = false;
    try { copied = document.execCommand("copy"); } catch (error) { copied = false; }
    at("kept").textContent = copied ? "Copied." : "Selected: copy it now.";
  });
  at("clear").addEventListener("click", () => {
    if (!confirm("Clear every tick, reading and note on this sheet?")) return;
    state = { unit: state.unit, stage: SHEET.stages[0].name, set: {}, stages: {} };
    showAll();
  });
  load();
  showAll();
}
