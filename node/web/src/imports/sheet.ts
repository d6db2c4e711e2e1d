// The table as the page reads it, to show heads and wrong cells where they stand. What it means, the node says.
import Papa from 'papaparse';

export interface Line {
  line: number;
  cells: readonly string[];
}

/** A workbook is a zip archive: the node alone reads it. */
const isWorkbook = (data: Uint8Array) => data[0] === 0x50 && data[1] === 0x4b;

/** The heads, and the lines that are asked for, by the number that they have in the file; nothing of a workbook. */
export function readSheet(data: Uint8Array, wanted: readonly number[]): { heads: readonly string[]; lines: readonly Line[] } {
  let heads: readonly string[] = [];
  const lines: Line[] = [];
  if (isWorkbook(data)) return { heads, lines };
  const last = Math.max(1, ...wanted);
  let at = 1;
  const text = new TextDecoder().decode(data);
  Papa.parse<string[]>(text, {
    delimiter: separator(text),
    step: ({ data: cells }, parser) => {
      if (heads.length === 0 && cells.some((cell) => cell !== '')) heads = cells.map((cell) => cell.trim());
      else if (wanted.includes(at)) lines.push({ line: at, cells });
      at += 1 + cells.join('').split('\n').length - 1; // a quoted cell may hold lines
      if (at > last) parser.abort();
    },
  });
  return { heads, lines };
}

/** What parts the heads, by the node's own rule: where the comma writes decimals, spreadsheets save semicolons. */
function separator(text: string): string {
  const first = /^(?:"[^"]*"|[^"\n])*/.exec(text)?.[0].replace(/"[^"]*"/g, '') ?? '';
  const often = (mark: string) => first.split(mark).length;
  return [';', '\t'].reduce((best, mark) => (often(mark) > often(best) ? mark : best), ',');
}
