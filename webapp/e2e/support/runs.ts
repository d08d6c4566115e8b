// Logs and tables as other programs write them, invented by formula.

/** A pack of ten cells on a resistor of 10 Ω for so many minutes, then its voltage: a plateau, and a knee at the end. */
export function dischargeV(minutes: number, endMin = 150): number {
  const left = 1 - minutes / endMin;
  return Number((12.6 - 0.5 * (1 - left) - 2.1 * Math.exp(-24 * Math.max(left, 0)) - Math.max(0, -left) * 20).toFixed(2));
}

/** driveLog is a drive: 0.12 Ω behind 12.8 V, the current going up and down in steps of seconds, with dips. */
export function driveLog(rows: number, stepS = 0.1): string {
  const lines = ["Time (s),Voltage (V),Current (A)"];
  for (let i = 0; i < rows; i++) {
    const beat = Math.floor((i * stepS) / 3) % 5;
    const amps = [0, 12, 3, 36, 8][beat]! + ((i * 7919) % 11) / 20;
    const volts = 12.8 - 0.12 * amps - (0.4 * i) / rows;
    lines.push(`${(i * stepS).toFixed(2)},${volts.toFixed(3)},${amps.toFixed(2)}`);
  }
  return lines.join("\n") + "\n";
}

/** oldTests is a table of tests of one pack, one a day. */
export function oldTests(pack: string, rows: number): string {
  const day = (i: number) => new Date(Date.UTC(2015, 0, 1) + i * 86_400_000).toISOString().slice(0, 10);
  const lines = Array.from({ length: rows }, (_, i) => `${pack},${day(i)},12.84,${(12.7 - (i % 7) / 100).toFixed(2)},10`);
  return ["pack,date,open voltage (V),loaded voltage (V),load (Ω)", ...lines, ""].join("\n");
}

/** csvFile is a file as a page's file field takes it. */
export function csvFile(name: string, text: string | Buffer) {
  return { name, mimeType: "text/csv", buffer: Buffer.from(text) };
}
