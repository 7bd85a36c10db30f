// what a size may have been meant as: the same as the store says when it refuses it; of each its key and its words
function meanings(size, unit, aim) {
  const units = Object.keys(um).filter((other) => other !== unit && near(size * um[other], aim)).map((other) => ["unit " + other, fill(say.other_unit, { unit: setup.units[other] })]);
  const slips = [1, -1, 2, -2, 3, -3].filter((n) => near(size * 10 ** n * um[unit], aim)).map((n) => ["slip", fill(say.slipped, { value: String(Number((size * 10 ** n).toPrecision(9))) })]);
  return units.concat(slips);
}

// a box in which a size is being typed is judged when it is whole, or left
function unfinished(cell) {
  const { unit, step } = gauge(), text = figures(cell);
  return cell === document.activeElement && Boolean(step) && /^\d*\.?\d*$/.test(text) && text.length < (setup.new_um / um[unit]).toFixed(decimals(step)).length;
}

// gives [class, reason, key of what most of a sheet may have in common] or nothing
function size(input, aim, farWords) {
  const text = figures(input), { unit, step } = gauge(), typed = number(text);
  if (!text) return null;
  if (Number.isNaN(typed)) return ["bad", say.not_number];
  if (aim && !near(typed * um[unit], aim)) {
    const meant = meanings(typed, unit, aim), times = typed * um[unit] / aim, [over, most] = setup.over_pins || [];
    const pins = input.dataset.spline && !meant.length && times > over && times <= most;
    return ["bad", [fill(pins ? say.over_pins : farWords, { new: written(aim, unit) }) + ".", ...meant.map(([, words]) => words)].join(" "), meant.length ? meant[0][0] : pins ? "pins" : ""];
  }
  // the register is measured by another gauge, which may show more or fewer figures
  if (input.dataset.line === "register") return null;
  if (step && decimals(text) > decimals(step)) return ["odd", fill(say.fine, { step: step + " " + unit }), "fine"];
  if (step && decimals(text) < decimals(step)) return ["odd", say.coarse, "coarse"];
  return null;
}

// what readings are looked at against: the middle of their station, and the scatter about it, never less than a floor
// that is wider while few are in
function spread(sizes) {
  if (!cells.length) return null;
  const good = sizes.map((_, n) => n).filter((n) => near(sizes[n], setup.new_um)), centre = good.length ? middle(good.map((n) => sizes[n])) : setup.new_um;
  const lean = (setup.stations || []).map((_, station) => {
    const mine = good.filter((n) => Number(cells[n].dataset.at) === station).map((n) => sizes[n]);
    return mine.length >= rule.least ? middle(mine) - centre : 0;
  });
  const expected = (n) => centre + lean[cells[n].dataset.at], rest = good.map((n) => sizes[n] - expected(n));
  const about = rest.length ? middle(rest) : 0, { unit, step } = gauge();
  const floor = Math.hypot(rule.floor_um * (1 + rule.early / good.length), Number(step) * um[unit] / Math.sqrt(12));
  return { good, centre, expected, scatter: good.length ? Math.max(1.4826 * middle(rest.map((one) => Math.abs(one - about))), floor) : 0 };
}

// the text with two neighbouring figures exchanged that comes nearest to what is expected, if any comes near
function exchanged(text, unit, aim, within) {
  const places = [...text].map((_, n) => n).filter((n) => /\d/.test(text[n]));
  const tries = places.slice(1).map((b, k) => { const a = places[k], signs = [...text]; [signs[a], signs[b]] = [signs[b], signs[a]]; return signs.join(""); });
  const off = (other) => Math.abs(number(other) * um[unit] - aim);
  return tries.filter((other) => other !== text && off(other) <= within).sort((a, b) => off(a) - off(b))[0];
}

function reading(n, sizes, sheet) {
  const input = cells[n], found = size(input, setup.new_um, say.far), { unit } = gauge(), enough = sheet.good.length >= rule.least;
  if (Number.isNaN(sizes[n])) return found;
  const away = Math.abs(sizes[n] - sheet.expected(n)), turn = setup.turn_um[unit], S = sheet.scatter;
  if (enough && away > rule.swap_scatters * S) {
    const other = exchanged(figures(input), unit, sheet.expected(n), rule.swap_near * S);
    if (other && !(found && found[2])) return [found && found[0] === "bad" ? "bad" : "odd", fill(say.swapped, { value: other })];
  }
  // of 5.9 among 5.94 the nought that is missing is told first
  if (found && (found[0] === "bad" || found[2] === "coarse")) return found;
  if (enough && away > rule.scatters * S) {
    const facts = { turn: written(turn, unit), away: written(away, unit) };
    return ["odd", fill(Math.abs(away - turn) < rule.scatters * S ? say.turn : say.stray, facts)];
  }
  if (sizes[n] > setup.new_um + setup.above_um) return ["odd", fill(say.above, { new: written(setup.new_um, unit) }), "above"];
  return found;
}

function judge(input) {
  const name = input.dataset.line, text = figures(input);
  if (name === "failed_on" && input.value > value(all("[data-line=seen_on]", input.closest("[data-fitting]"))[0])) return ["bad", say.after_seen];
  if (input.type === "date") return input.value > today() ? ["bad", say.future] : null;
  if (name === "hours" || name === "turn") return text && Number.isNaN(number(text)) ? ["bad", say.not_number] : null;
  if (["loose", "broken", "hub-cracked", "shaft-broken"].includes(value(input))) return ["stop", say.do_not_start];
  if (name === "register") return size(input, setup.register_um, say.register_far);
  if (name === "check_piece") return text && Number.isNaN(number(text)) ? ["bad", say.not_number] : null;
  if (name === "check_reading") {
    const piece = number(figures(line("check_piece"))) * 1000, found = size(input, piece, say.check_far);
    const away = Math.abs(number(text) * um[gauge().unit] - piece);
    return found || (away > setup.check_um ? ["odd", fill(say.check_off, { away: written(away, gauge().unit) })] : null);
  }
  return null;
}

function damage() {
  const words = ticked();
  if (words.includes("cracked")) return ["stop", say.do_not_run];
  return words.length > 1 && words.includes("sound") ? ["odd", say.contradicts] : null;
}

// what most readings have in common is said once: its key, its words, the choice of gauge that would mend it
function shared(found, sizes) {
  const filled = cells.filter((cell) => value(cell)), { unit, step } = gauge();
  const keys = found.map((one) => (one && one[2]) || ""), times = (key) => keys.filter((other) => other === key).length;
  const key = [...new Set(keys)].filter(Boolean).sort((a, b) => times(b) - times(a))[0];
  const count = key ? times(key) : 0, refused = key && !["fine", "coarse", "above"].includes(key);
  if (count * 2 <= filled.length || count < (refused ? 2 : 3)) {
    const there = sizes.filter((one) => !Number.isNaN(one));
    return { words: there.length > 5 && new Set(there).size === 1 ? say.all_equal : "" };
  }
  const other = key.startsWith("unit ") ? key.slice(5) : "", first = cells[keys.indexOf(key)];
  const facts = { count, all: filled.length, step: step + " " + unit, new: written(setup.new_um, unit), unit: setup.units[other], here: setup.units[unit], typed: value(first) };
  const most = Math.max(...filled.map((cell) => decimals(figures(cell))));
  const fits = other || key === "fine" || key === "coarse" ? group(line("reads")).map((input) => input.value).filter((reads) => reads.split(" ")[0] === (other || unit)) : [];
  const mend = fits.find((reads) => decimals(reads.split(" ")[1]) === most) || (other && fits[0]);
  return { key, mend, words: fill(say["sheet_" + (other ? "unit" : key)], facts) };
}
