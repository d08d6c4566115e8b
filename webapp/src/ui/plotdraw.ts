// What a plot draws on its canvas besides axes and lines, in the app's colours.
import uPlot from "uplot";
import type { PlotData, PlotPoint } from "./plot";

/** The colours of the theme as a canvas needs them, and the small text. */
export interface Colours {
  ink: string;
  edge: string;
  hair: string;
  ground: string;
  good: string;
  warm: string;
  wash: string; // of the band
  warmWash: string; // of a span
  font: string;
  small: number; // CSS px
}

export function colours(): Colours {
  const style = getComputedStyle(document.documentElement);
  const token = (name: string) => style.getPropertyValue(name).trim();
  const small = 0.8125 * Number.parseFloat(style.fontSize);
  const text = { font: `${small}px ${token("--font")}`, small };
  if (matchMedia("(forced-colors: active)").matches) {
    const ink = "CanvasText";
    const wash = "transparent";
    return { ink, edge: ink, hair: "GrayText", ground: "Canvas", good: ink, warm: "Highlight", wash, warmWash: wash, ...text };
  }
  return {
    ink: token("--ink"),
    edge: token("--edge"),
    hair: token("--hair"),
    ground: token("--panel"),
    good: token("--good"),
    warm: token("--warm"),
    wash: token("--band"),
    warmWash: token("--warm-wash"),
    ...text,
  };
}

const dayMS = 86_400_000;
const monthDay = new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "short" });
const month = new Intl.DateTimeFormat("en-GB", { month: "short" });
const clock = new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit" });

/** What stands at the ticks of an axis; the year at the first date and where it changes. */
export function tickWords(splits: number[], step: number, dates: boolean): string[] {
  if (!dates) {
    const whole = (places: number) => Math.abs(step * 10 ** places - Math.round(step * 10 ** places)) < 1e-6;
    const places = [0, 1, 2, 3, 4, 5].find(whole) ?? 6;
    return splits.map((value) => (value < 0 ? "−" : "") + Math.abs(value).toFixed(places));
  }
  const words = step >= 27 * dayMS ? month : step >= dayMS ? monthDay : clock;
  const yearOf = (ms: number | undefined) => (ms === undefined ? null : new Date(ms).getFullYear());
  return splits.map((ms, i) => words.format(ms) + (yearOf(ms) === yearOf(splits[i - 1]) ? "" : `\n${yearOf(ms)}`));
}

/** What lies under the lines: spans, and levels with their words. */
export function drawBelow(plot: uPlot, data: PlotData, of: Colours): void {
  const { ctx, bbox } = plot;
  const px = uPlot.pxRatio;
  within(plot, () => {
    for (const span of data.spans ?? []) {
      const [from, to] = [x(plot, span.from), x(plot, span.to)];
      ctx.fillStyle = of.warmWash;
      ctx.fillRect(from, bbox.top, to - from, bbox.height);
      stroke(ctx, of.warm, 1.5 * px, [2 * px, 4 * px]);
      for (const edge of [from, to]) upright(plot, edge);
    }
  });
}

/** What lies over the lines: the unit, levels, marks, points, and the one that was chosen. */
export function drawAbove(plot: uPlot, data: PlotData, of: Colours, picked: string | null): void {
  const { ctx, bbox } = plot;
  const px = uPlot.pxRatio;
  const words = (text: string, atX: number, atY: number, align: CanvasTextAlign = "left") => {
    ctx.textAlign = align;
    ctx.textBaseline = "alphabetic";
    ctx.font = of.font.replace(/^[\d.]+/, String(of.small * px));
    ctx.lineJoin = "round";
    ctx.setLineDash([]);
    ctx.lineWidth = 4 * px;
    ctx.strokeStyle = of.ground;
    ctx.strokeText(text, atX, atY);
    ctx.fillStyle = of.ink;
    ctx.fillText(text, atX, atY);
  };
  ctx.save();
  words(data.unit, bbox.left - 1.5 * of.small * px, bbox.top - 0.5 * of.small * px);
  if (data.x !== "date") words(data.x, bbox.left + bbox.width, bbox.top + bbox.height - 0.5 * of.small * px, "right");
  ctx.restore();
  within(plot, () => {
    for (const level of data.levels ?? []) {
      const at = y(plot, level.y);
      stroke(ctx, of.warm, 2.5 * px);
      line(ctx, [bbox.left, at], [bbox.left + bbox.width, at]);
    }
    for (const mark of data.marks ?? []) {
      const at = x(plot, mark.x);
      stroke(ctx, of.ink, 1.5 * px, mark.kind === "repair" ? [] : [4 * px, 4 * px]);
      upright(plot, at);
      sign(plot, at, mark.kind, of);
    }
    const many = (data.points?.length ?? 0) > crowd;
    for (const point of data.points ?? []) {
      if (many) dot(plot, point, of);
      else drawPoint(plot, point, of);
    }
    const chosen = data.points?.find((point) => point.id === picked);
    if (chosen) {
      if (many) drawPoint(plot, chosen, of);
      stroke(ctx, of.ink, 2 * px);
      ring(plot, chosen, 11 * px);
    }
    for (const level of data.levels ?? []) {
      const at = y(plot, level.y);
      const above = at - bbox.top > 2 * of.small * px;
      words(level.words, bbox.left + 0.5 * of.small * px, above ? at - 0.5 * of.small * px : at + 1.25 * of.small * px);
    }
  });
}

const crowd = 200; // points; more would hide each other behind their intervals

/** One of a crowd. */
function dot(plot: uPlot, point: PlotPoint, of: Colours): void {
  const size = 2 * uPlot.pxRatio;
  plot.ctx.fillStyle = point.used ? of.good : of.edge;
  plot.ctx.fillRect(x(plot, point.x) - size / 2, y(plot, point.y) - size / 2, size, size);
}

/** A reading: a full lozenge with its interval, or a hollow grey ring where it is not used. */
function drawPoint(plot: uPlot, point: PlotPoint, of: Colours): void {
  const { ctx } = plot;
  const px = uPlot.pxRatio;
  const [atX, atY] = [x(plot, point.x), y(plot, point.y)];
  const colour = point.used ? of.good : of.edge;
  stroke(ctx, colour, (point.used ? 2 : 1.25) * px);
  if (point.plus) {
    const [low, high] = [y(plot, point.y - point.plus), y(plot, point.y + point.plus)];
    line(ctx, [atX, low], [atX, high]);
    for (const end of [low, high]) line(ctx, [atX - 3 * px, end], [atX + 3 * px, end]);
  }
  ctx.beginPath();
  if (point.used) {
    ctx.moveTo(atX, atY - 6 * px);
    ctx.lineTo(atX + 4.5 * px, atY);
    ctx.lineTo(atX, atY + 6 * px);
    ctx.lineTo(atX - 4.5 * px, atY);
    ctx.closePath();
    ctx.fillStyle = colour;
    ctx.fill();
  } else {
    ctx.arc(atX, atY, 4 * px, 0, 2 * Math.PI);
    ctx.fillStyle = of.ground;
    ctx.fill();
    ctx.stroke();
  }
  if (point.flagged) {
    stroke(ctx, of.warm, 2 * px, [3 * px, 3 * px]);
    ring(plot, point, 9 * px);
  }
}

/** At the head of a mark: a square for a repair, a triangle for a finding. */
function sign(plot: uPlot, at: number, kind: "repair" | "finding", of: Colours): void {
  const { ctx, bbox } = plot;
  const px = uPlot.pxRatio;
  const size = 5 * px;
  const top = bbox.top + 2 * px;
  ctx.beginPath();
  if (kind === "repair") ctx.rect(at - size, top, 2 * size, 2 * size);
  else {
    ctx.moveTo(at, top);
    ctx.lineTo(at + 1.25 * size, top + 2 * size);
    ctx.lineTo(at - 1.25 * size, top + 2 * size);
    ctx.closePath();
  }
  ctx.fillStyle = kind === "repair" ? of.ink : of.warm;
  ctx.fill();
}

function x(plot: uPlot, value: number): number {
  return plot.valToPos(value, "x", true);
}

function y(plot: uPlot, value: number): number {
  return plot.valToPos(value, "y", true);
}

function ring(plot: uPlot, point: PlotPoint, radius: number): void {
  plot.ctx.beginPath();
  plot.ctx.arc(x(plot, point.x), y(plot, point.y), radius, 0, 2 * Math.PI);
  plot.ctx.stroke();
}

function upright({ ctx, bbox }: uPlot, at: number): void {
  line(ctx, [at, bbox.top], [at, bbox.top + bbox.height]);
}

function line(ctx: CanvasRenderingContext2D, from: [number, number], to: [number, number]): void {
  ctx.beginPath();
  ctx.moveTo(...from);
  ctx.lineTo(...to);
  ctx.stroke();
}

function stroke(ctx: CanvasRenderingContext2D, colour: string, width: number, dash: number[] = []): void {
  ctx.strokeStyle = colour;
  ctx.lineWidth = width;
  ctx.setLineDash(dash);
}

/** Draws inside the axes only. */
function within({ ctx, bbox }: uPlot, draw: () => void): void {
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  draw();
  ctx.restore();
}
