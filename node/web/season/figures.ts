import { readFileSync } from 'node:fs';

/** What a person waits for, in milliseconds. */
export type Times = readonly number[];

function at(sorted: Times, share: number): string {
  const one = sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))];
  return one === undefined ? '–' : one.toFixed(1);
}

/** One line: how often, and how long it took half of the time, nine times in ten, 99 times in a hundred, at worst. */
export function report(what: string, times: Times, more = ''): void {
  const sorted = [...times].sort((a, b) => a - b);
  const figures = [0.5, 0.9, 0.99, 1].map((share) => at(sorted, share).padStart(8)).join('');
  console.log(`${what.padEnd(44)}${String(sorted.length).padStart(5)}${figures}  ${more}`);
}

export function head(what: string): void {
  const columns = ['p50', 'p90', 'p99', 'max'].map((name) => name.padStart(8)).join('');
  console.log(`\n${what.padEnd(44)}    n${columns}  (ms) machine's load ${load()}`);
}

/** The mean number of programs that wanted to run in the last minute (proc(5), /proc/loadavg). */
function load(): string {
  return readFileSync('/proc/loadavg', 'utf8').split(' ')[0] ?? '';
}

/** Processor time that a process has used, in milliseconds (proc(5), /proc/PID/stat: fields 14 and 15, in hundredths). */
export function processorTime(pid: number): number {
  const fields = readFileSync(`/proc/${pid}/stat`, 'utf8').replace(/^.*\) /s, '').split(' ');
  return (Number(fields[11]) + Number(fields[12])) * 10;
}
