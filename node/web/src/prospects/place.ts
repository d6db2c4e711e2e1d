/** Where an expression is wrong, and why, as the node says it: "line 1, column 5: reason", then the line with a caret. */
export interface Place {
  before: string;
  wrong: string;
  after: string;
  reason: string;
}

const said = /^line (\d+), column (\d+): ([^\n]*)/;
const token = /^(?:[A-Za-z_][\w.]*|"[^"]*"?|'[^']*'?|[\d.]+|[=!<>&|]+|.)/u;

/** Finds the place in the expression, if the sentence names one. */
export function placeOf(sentence: string, expression: string): Place | undefined {
  const match = said.exec(sentence);
  if (!match) return undefined;
  const lines = expression.split('\n');
  const line = Number(match[1]);
  const above = lines.slice(0, line - 1).reduce((length, text) => length + text.length + 1, 0);
  const inLine = [...(lines[line - 1] ?? '')].slice(0, Number(match[2]) - 1).join('').length;
  const at = Math.min(above + inLine, expression.length);
  const wrong = token.exec(expression.slice(at))?.[0] ?? '';
  return { before: expression.slice(0, at), wrong, after: expression.slice(at + wrong.length), reason: match[3] ?? '' };
}
