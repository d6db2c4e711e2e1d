import { type Timestamp, timestampDate } from '@bufbuild/protobuf/wkt';

/** Days are written as in the trade's tables, year first: they sort, and nobody takes the month for the day. */
export function day(written: Timestamp | undefined): string {
  if (written === undefined) return 'no date';
  const at = timestampDate(written);
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
}

export function minute(written: Timestamp | undefined): string {
  if (written === undefined) return 'no date';
  const at = timestampDate(written);
  return `${day(written)} ${two(at.getHours())}:${two(at.getMinutes())}`;
}

export const two = (n: number) => String(n).padStart(2, '0');
