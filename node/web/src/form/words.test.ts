import { expect, test } from 'vitest';
import { wordsFor } from './words';

// Words and abbreviations of the trade are common practice, no source. The node folds synonyms.
const result = {
  choices: ['lost', 'even', 'won'],
  synonyms: [
    { word: '+', choices: ['won'] },
    { word: '-', choices: ['lost'] },
    { word: 'l', choices: ['lost'] },
    { word: 'w', choices: ['won'] },
  ],
} as unknown as Parameters<typeof wordsFor>[0];
const block = {
  choices: ['base', 'back_block', 'pull_kick', 'pull_wrap', 'double_team'],
  synonyms: [
    { word: 'pull', choices: ['pull_kick', 'pull_wrap'] },
    { word: 'wrap', choices: ['pull_wrap'] },
    { word: 'combo', choices: ['double_team'] },
  ],
} as unknown as Parameters<typeof wordsFor>[0];

const first = (info: typeof result, typed: string) => wordsFor(info, typed).offered[0]?.id;

test('a sign, a letter, the beginning of a name or of a part of it lead to the choice', () => {
  expect([first(result, '+'), first(result, '-'), first(result, 'W'), first(result, 'ev')]).toEqual(['won', 'lost', 'won', 'even']);
  expect([first(block, 'ba'), first(block, 'back bl'), first(block, 'wrap'), first(block, 'com')]).toEqual(['base', 'back_block', 'pull_wrap', 'double_team']);
  expect(wordsFor(block, 'back-block').offered[0]).toMatchObject({ id: 'back_block', text: 'back block' });
});

test('a word that means several is asked about', () => {
  const pull = wordsFor(block, 'pull');
  expect(pull.offered.map((one) => one.id)).toEqual(['pull_kick', 'pull_wrap']);
  expect(pull.isSure).toBe(false);
  expect(wordsFor(block, 'pull kick').isSure).toBe(true);
  expect(wordsFor(block, 'zzz')).toEqual({ offered: [], isSure: false });
});

test('nothing typed offers everything and takes nothing', () => {
  const all = wordsFor(result, '');
  expect(all.offered.map((one) => [one.text, one.aside])).toEqual([['lost', '- L'], ['even', ''], ['won', '+ W']]); // prettier-ignore
  expect(all.isSure).toBe(false);
});
