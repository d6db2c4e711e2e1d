const day = /(\d{4}-\d\d-\d\d)/;

/** A text whose days stay on one line: a browser would break them at their hyphens. */
export function Dated({ text }: { text: string }) {
  return text.split(day).map((part, i) =>
    i % 2 === 1 ? (
      <span key={i} className="whole">
        {part}
      </span>
    ) : (
      part
    ),
  );
}
