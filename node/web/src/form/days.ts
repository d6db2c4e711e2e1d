// Days as they are typed: whole, or by a word. Keys step from day to day.

const two = (n: number) => String(n).padStart(2, '0');

export const dayOf = (at: Date) => `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;

/** Takes "today" and "yesterday" for their days, and leaves everything else as it is. */
export function readDay(typed: string, now: Date): string {
  const word = typed.trim().toLowerCase();
  if (word === 'today') return dayOf(now);
  if (word === 'yesterday') return step(dayOf(now), -1, now);
  return typed;
}

/** The day so many days later; from today where no day stands. */
export function step(typed: string, days: number, now: Date): string {
  const parts = /^(\d{4})-(\d{2})-(\d{2})$/.exec(typed.trim());
  if (!parts) return dayOf(now);
  return dayOf(new Date(Number(parts[1]), Number(parts[2]) - 1, Number(parts[3]) + days));
}
