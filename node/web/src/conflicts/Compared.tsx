import { diffWordsWithSpace } from 'diff';

/** Texts shorter than this are taken in at a glance. */
const short = 40;

/** A text with what another one lacks underlined, where it is long enough to need it. */
export function Compared({ text, other }: { text: string; other: string | undefined }) {
  if (other === undefined || Math.max(text.length, other.length) < short) return text;
  const parts = diffWordsWithSpace(other, text).filter((part) => !part.removed);
  const words = parts.filter((part) => !part.added).reduce((length, part) => length + part.value.trim().length, 0);
  if (words < text.length / 4) return text; // nothing in common: marks would only be noise
  return parts.map((part, i) => {
    const key = `${i} ${part.value}`;
    return part.added ? (
      <mark key={key} className="own">
        {part.value}
      </mark>
    ) : (
      <span key={key}>{part.value}</span>
    );
  });
}
