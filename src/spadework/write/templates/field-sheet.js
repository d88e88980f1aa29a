// Rod readings for today's height of instrument: rod = HI - level. Lengths are metres inside.
const FOOT = 0.3048;

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

// Text of metres in the sheet's unit: 3 decimals, 2 decimals, or eighths of an inch that carry.
function printLength(metres, unit) {
  if (unit === "m") return rounded(metres, 3) + " m";
  if (unit === "ft") return rounded(metres / FOOT, 2) + " ft";
  const eighths = Math.floor(Number((Math.abs(metres) / FOOT * 96).toFixed(9)) + 0.5);
  const feet = Math.floor(eighths / 96), inches = Math.floor((eighths % 96) / 8), rest = eighths % 8;
  const part = rest % 4 === 0 ? rest / 4 + "/2" : rest % 2 === 0 ? rest / 2 + "/4" : rest + "/8";
  const words = rest === 0 ? String(inches) : inches + " " + part;
  return (metres < 0 && eighths > 0 ? "-" : "") + feet + "' " + words + '"';
}

// Rounded as on paper: what ends in 5 goes up. Two readings added leave dust far behind the decimals: off with it.
function rounded(value, decimals) {
  const scale = 10 ** decimals;
  const steps = Math.floor(Number((Math.abs(value) * scale).toFixed(6)) + 0.5);
  return (value < 0 && steps > 0 ? "-" : "") + (steps / scale).toFixed(decimals);
}

function showRods(hi) {
  for (const cell of document.querySelectorAll(".rod")) {
    const rod = hi === null ? null : hi - Number(cell.dataset.level);
    cell.textContent = rod === null ? "" : rod < 0 ? "above sight" : printLength(rod, SHEET.unit);
  }
}

if (typeof document !== "undefined") {
  const box = document.getElementById("reading"), status = document.getElementById("hi");
  box.addEventListener("input", () => {
    if (box.value.trim() === "") {
      status.textContent = SHEET.hi === null ? "" : "HI " + printLength(SHEET.hi, SHEET.unit);
      showRods(SHEET.hi);
      return;
    }
    const reading = parseReading(box.value, SHEET.unit);
    if (typeof reading === "string") {
      status.textContent = reading;
      showRods(null);
      return;
    }
    const hi = SHEET.bench === null ? reading : SHEET.bench + reading;
    status.textContent = "HI " + printLength(hi, SHEET.unit);
    showRods(hi);
  });
}
