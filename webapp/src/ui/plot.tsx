// A plot of readings against time: lines with a band, points with their
// interval, limits, spans and marks. A tap shows the nearest point; so do two
// buttons, for a keyboard and for a thumb among many points. What it draws is
// in plotdraw.ts. Whoever uses it gives the same as a table beneath.
import { useSignal } from "@preact/signals";
import { type ComponentChildren } from "preact";
import { useEffect, useRef } from "preact/hooks";
import uPlot from "uplot";
import { Icon } from "./icon";
import { colours, drawAbove, drawBelow, tickWords, type Colours } from "./plotdraw";

/** One reading. */
export interface PlotPoint {
  id: string;
  x: number;
  y: number;
  plus?: number; // half of its interval
  used: boolean; // grey and hollow where not
  flagged?: boolean; // with a ring
}

/** A line, and a band from low to high; each may be left out. All lists are as long as x, which rises. */
export interface PlotCurve {
  x: number[];
  line?: (number | null)[];
  low?: (number | null)[];
  high?: (number | null)[];
  knownTo?: number; // x; beyond it the line is carried on, and dashed
}

/** A horizontal line with its words. */
export interface PlotLevel {
  y: number;
  words: string;
}

/** A stretch of x, shaded. */
export interface PlotSpan {
  from: number;
  to: number;
}

/** A moment, as an upright line. */
export interface PlotMark {
  x: number;
  kind: "repair" | "finding";
}

export interface PlotData {
  x: "date" | string; // dates are unix ms; anything else is a unit
  unit: string; // of y
  xRange: [number, number];
  yRange: [number, number];
  points?: PlotPoint[]; // by x
  curve?: PlotCurve;
  levels?: PlotLevel[];
  spans?: PlotSpan[];
  marks?: PlotMark[];
}

interface Props {
  label: string; // what the picture shows, for whoever does not see it
  data: PlotData;
  /** What is written beneath about a point that was chosen. */
  about?: (id: string) => ComponentChildren;
}

const wideAt = 480; // px; a wide picture may be taller
const tallPX = 340;
const lowPX = 260;
const reachPX = 40; // a tap this near to a point is meant for it

export function Plot({ label, data, about }: Props) {
  const place = useRef<HTMLDivElement>(null);
  const plot = useRef<uPlot | null>(null);
  const points = data.points ?? [];
  const picked = useSignal<string | null>(points.at(-1)?.id ?? null);
  const at = points.findIndex((point) => point.id === picked.value);
  const key = JSON.stringify(data);

  useEffect(() => {
    const box = place.current;
    if (!box) return;
    let shown = colours();
    const drawn = new uPlot(optionsOf(data, box.clientWidth, () => shown, () => picked.value), tableOf(data), box);
    plot.current = drawn;
    const resized = new ResizeObserver(() => {
      if (box.clientWidth > 0 && box.clientWidth !== drawn.width) drawn.setSize(sizeFor(box.clientWidth));
    });
    resized.observe(box);
    const themed = new MutationObserver(() => {
      shown = colours();
      drawn.redraw(false, true);
    });
    themed.observe(document.documentElement, { attributeFilter: ["data-theme"] });
    return () => {
      resized.disconnect();
      themed.disconnect();
      drawn.destroy();
    };
  }, [key]);
  useEffect(() => plot.current?.redraw(false), [picked.value]);

  const tap = (event: MouseEvent) => {
    const drawn = plot.current;
    const found = drawn && nearest(drawn, points, event);
    if (found) picked.value = found.id;
  };
  const step = (by: number) => {
    const next = points[Math.min(Math.max(at + by, 0), points.length - 1)];
    if (next) picked.value = next.id;
  };
  return (
    <div class="plot">
      <div ref={place} role="img" aria-label={label} onClick={tap} />
      {about && points.length > 0 && (
        <div class="plot-picked">
          <button type="button" class="button small" aria-label="Earlier" aria-disabled={at <= 0} onClick={() => step(-1)}>
            <Icon name="back" />
          </button>
          <div role="status">{picked.value !== null && at >= 0 && about(picked.value)}</div>
          <button type="button" class="button small" aria-label="Later" aria-disabled={at >= points.length - 1} onClick={() => step(1)}>
            <Icon name="next" />
          </button>
        </div>
      )}
    </div>
  );
}

function sizeFor(width: number): { width: number; height: number } {
  return { width, height: width >= wideAt ? tallPX : lowPX };
}

/** The point nearest to where was tapped, if one is near. */
function nearest(drawn: uPlot, points: PlotPoint[], event: MouseEvent): PlotPoint | null {
  const area = drawn.over.getBoundingClientRect();
  let best: PlotPoint | null = null;
  let least = reachPX;
  for (const point of points) {
    const dx = drawn.valToPos(point.x, "x") - (event.clientX - area.left);
    const dy = drawn.valToPos(point.y, "y") - (event.clientY - area.top);
    const distance = Math.hypot(dx, dy);
    if (distance < least) [best, least] = [point, distance];
  }
  return best;
}

/** The curve as columns: x, low, high, the line as far as it is known, and carried on. */
function tableOf({ curve, xRange }: PlotData): uPlot.AlignedData {
  if (!curve) return [xRange, [null, null], [null, null], [null, null], [null, null]];
  const none = curve.x.map(() => null);
  const line = curve.line ?? none;
  const known = curve.knownTo ?? Infinity;
  return [
    curve.x,
    curve.low ?? none,
    curve.high ?? none,
    line.map((y, i) => ((curve.x[i] ?? 0) <= known ? y : null)),
    line.map((y, i) => ((curve.x[i] ?? 0) >= known ? y : null)),
  ];
}

function optionsOf(data: PlotData, width: number, of: () => Colours, picked: () => string | null): uPlot.Options {
  const { small } = of();
  const axis = (side: 2 | 3): uPlot.Axis => ({
    side,
    stroke: () => of().ink,
    font: of().font,
    grid: { stroke: () => of().hair, width: 1 },
    ticks: { stroke: () => of().edge, width: 1, size: 6 },
    values: (_, splits, __, ___, step) => tickWords(splits, step, side === 2 && data.x === "date"),
  });
  const line = (more: uPlot.Series = {}): uPlot.Series => ({ stroke: () => of().good, width: 2.5, points: { show: false }, ...more });
  return {
    ...sizeFor(width),
    ms: 1,
    padding: [1.75 * small, 1.5 * small, 0, 0], // room for the unit above, and for half of the last date
    legend: { show: false },
    cursor: { show: false },
    scales: { x: { time: data.x === "date", range: () => data.xRange }, y: { range: () => data.yRange } },
    axes: [
      { ...axis(2), space: 3.75 * small, size: data.x === "date" ? 3.75 * small : 2.5 * small },
      { ...axis(3), space: 2.5 * small, size: 3.75 * small },
    ],
    series: [{}, line({ width: 0 }), line({ width: 0 }), line(), line({ dash: [8, 6] })],
    bands: [{ series: [2, 1], fill: () => of().wash }],
    hooks: { drawAxes: [(plot) => drawBelow(plot, data, of())], draw: [(plot) => drawAbove(plot, data, of(), picked())] },
  };
}
