import { render } from '@testing-library/react';
import { expect, test } from 'vitest';
import { Compared } from './Compared';

const marked = (text: string, other?: string) => {
  const { container } = render(<Compared text={text} other={other} />);
  expect(container.textContent).toBe(text);
  return [...container.querySelectorAll('mark')].map((mark) => mark.textContent.trim());
};

test('what the other text lacks is marked, in long texts that have something in common', () => {
  const one = 'Plays through the whistle. Watch the second half against a heavy front.';
  const two = 'Plays through the whistle. Watch the fourth quarter against a heavy front.';
  expect(marked(two, one)).toEqual(['fourth', 'quarter']);
  expect(marked(one, one)).toEqual([]);
  expect(marked('guard', 'center')).toEqual([]);
  expect(marked('Coaches trust him with the calls. Ask for the practice film.', one)).toEqual([]);
  expect(marked(one)).toEqual([]);
});
