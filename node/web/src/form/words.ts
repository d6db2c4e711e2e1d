// Words for a choice, as one types them: the beginning of a name, or what people of the trade say for it.
import type { FieldInfo } from '../gen/plumbline/v1/ledger_pb';
import { plainName } from '../parts/words';

export interface Offered {
  id: string;
  text: string;
  aside?: string;
}

const fold = (text: string) => {
  const lower = text.trim().toLowerCase();
  return lower.replace(/[ _-]/g, '') || lower; // "-" alone is a word: a rep that was lost
};

/**
 * The choices that a typed text may mean, the likeliest first. `isSure` is not set where one word means several: the reader is
 * asked, nothing is guessed.
 */
export function wordsFor(info: Pick<FieldInfo, 'choices' | 'synonyms'>, typed: string): { offered: Offered[]; isSure: boolean } {
  const word = fold(typed);
  const item = (choice: string): Offered => ({ id: choice, text: plainName(choice), aside: asides(info, choice) });
  if (word === '') return { offered: info.choices.map(item), isSure: false };
  const named = info.choices.filter((choice) => fold(choice) === word);
  const meant = info.synonyms.find((one) => one.word === word)?.choices ?? [];
  const begin = info.choices.filter((choice) => fold(choice).startsWith(word));
  const within = info.choices.filter((choice) => choice.split('_').some((part) => part.startsWith(word)));
  const close = info.synonyms.filter((one) => one.word.startsWith(word)).flatMap((one) => one.choices);
  const all = [...new Set([...named, ...meant, ...begin, ...within, ...close])];
  const isSure = named.length === 1 || meant.length === 1 || (meant.length === 0 && all.length > 0);
  return { offered: all.map(item), isSure };
}

/** The trade's abbreviation, if there is a short one. */
function asides(info: Pick<FieldInfo, 'synonyms'>, choice: string): string {
  const short = info.synonyms.filter((one) => one.choices.length === 1 && one.choices[0] === choice && one.word.length <= 2);
  return short.map((one) => one.word.toUpperCase()).join(' ');
}
