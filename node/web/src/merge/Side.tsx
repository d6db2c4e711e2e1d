import type { MergedPart } from '../gen/plumbline/v1/ledger_pb';

/**
 * One of several texts, with what it changed of their ancestor: put in underlined, taken out struck. As it is, where it
 * wasn’t merged.
 */
export function Side({ parts, index, text }: { parts: readonly MergedPart[]; index: number; text: string }) {
  if (index < 0 || parts.length === 0) return text;
  return parts.map((part, i) => {
    const says = part.versions[index] ?? part.before;
    const key = `${i} ${part.before}`;
    if (says === part.before) return <span key={key}>{says}</span>;
    return (
      <span key={key}>
        {part.before !== '' && <del>{part.before}</del>}
        {says !== '' && <ins>{says}</ins>}
      </span>
    );
  });
}
