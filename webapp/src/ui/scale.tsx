// The graduated scale: a resistance with its uncertainty drawn against the
// limits it is judged by. It shows at a glance what the words beside it say.
import { plain } from "./format";

interface ScaleProps {
  value: number; // ohm
  expanded: number; // ohm
  limit: number; // ohm
  practice?: number; // ohm
}

/** Right end of the scale, ohm: everything drawn fits, in round steps. */
function span(p: ScaleProps): number {
  const most = Math.max(p.limit * 2, (p.practice ?? 0) * 1.1, p.value + p.expanded * 1.1);
  return Math.ceil(most / step(most)) * step(most);
}

/** Distance of the long ticks, ohm: 1, 2 or 5 times a power of ten. */
function step(most: number): number {
  const power = 10 ** Math.floor(Math.log10(most / 3));
  return [1, 2, 5, 10].map((n) => n * power).find((n) => most / n <= 5) ?? power * 10;
}

const left = 8;
const width = 304;

export function Scale(p: ScaleProps) {
  const end = span(p);
  const major = step(end);
  const at = (ohm: number) => left + (width * Math.min(Math.max(ohm, 0), end)) / end;
  const practice = p.practice !== undefined && p.practice > p.limit && p.practice <= end ? at(p.practice) : null;
  const practiceLeft = practice !== null && practice > 258; // its word would leave the picture
  const ticks = Array.from({ length: Math.round((end / major) * 10) + 1 }, (_, i) => i);
  return (
    <svg class="scale" viewBox="0 0 320 70" aria-hidden="true">
      {ticks.map((i) => (
        <line
          class="tick"
          x1={at((i * major) / 10)}
          x2={at((i * major) / 10)}
          y1={52}
          y2={52 - (i % 10 === 0 ? 13 : i % 5 === 0 ? 9 : 5)}
        />
      ))}
      <line class="tick" x1={left} x2={left + width} y1={52} y2={52} />
      {ticks
        .filter((i) => i % 10 === 0)
        .map((i) => (
          <text x={at((i * major) / 10)} y={67} text-anchor={i === 0 ? "start" : at((i * major) / 10) > 300 ? "end" : "middle"}>
            {plain((i * major) / 10)}
          </text>
        ))}
      <Limit x={at(p.limit)} left={practice !== null && at(p.limit) + 88 > practice - (practiceLeft ? 60 : 0)} word="competition" />
      {practice !== null && <Limit x={practice} left={practiceLeft} word="practice" />}
      <line class="span" x1={at(p.value - p.expanded)} x2={at(p.value + p.expanded)} y1={28} y2={28} />
      <path class="span" d={`M${at(p.value - p.expanded)} 21v14M${at(p.value + p.expanded)} 21v14`} />
      <path class="needle" d={`M${at(p.value)} 18l6 10-6 10-6-10z`} />
    </svg>
  );
}

/** A limit as a line with its word on the side that has room. */
function Limit({ x, left, word }: { x: number; left: boolean; word: string }) {
  return (
    <>
      <line class="limit" x1={x} x2={x} y1={0} y2={54} />
      <text x={left ? x - 5 : x + 5} y={11} text-anchor={left ? "end" : "start"}>
        {word}
      </text>
    </>
  );
}

/** The same in a list row: interval and limit only. */
export function MiniScale(p: ScaleProps) {
  const end = p.limit * 2;
  const at = (ohm: number) => 3 + (82 * Math.min(Math.max(ohm, 0), end)) / end;
  return (
    <svg class="scale mini" viewBox="0 0 88 18" aria-hidden="true">
      <line class="tick" x1={3} x2={85} y1={16.5} y2={16.5} />
      <line class="limit" x1={at(p.limit)} x2={at(p.limit)} y1={0} y2={18} />
      <line class="span" x1={at(p.value - p.expanded)} x2={at(p.value + p.expanded)} y1={8} y2={8} />
      <path class="needle" d={`M${at(p.value)} 2l4 6-4 6-4-6z`} />
    </svg>
  );
}
