import { render, screen } from '@testing-library/react';
import { expect, test } from 'vitest';
import { field } from '../test/records';
import { ValueView } from './ValueView';

test('a value says who wrote it, when, and from which list', () => {
  render(<ValueView field={field('school', [{ text: 'Salt Lick', by: 'Mara Quill', source: 'class of 2027' }])} />);
  expect(screen.getByText('Salt Lick')).toBeTruthy();
  expect(document.body.textContent).toContain('Mara Quill, 2026-10-15, from class of 2027');
});

test('those who agree stand together', () => {
  const agreed = field('school', [
    { text: 'Salt Lick', by: 'Mara Quill' },
    { text: 'Salt Lick', by: 'Tobin Ash', on: '2026-11-02T08:00' },
  ]);
  render(<ValueView field={agreed} />);
  expect(document.body.textContent).toContain('Tobin Ash and 1 more, 2026-11-02');
  expect(screen.queryByText(/values/)).toBeNull();
});

test('those who differ are all shown, with a sign and a word', () => {
  const differing = field('position', [
    { text: 'guard', by: 'Mara Quill' },
    { text: 'center', by: 'Tobin Ash' },
    { text: 'center', by: 'Nell Varr' },
  ]);
  render(<ValueView field={differing} plain />);
  expect(screen.getByText('≠ 2 values')).toBeTruthy();
  expect(screen.getAllByRole('listitem').map((item) => item.textContent)).toEqual([
    'guardMara Quill, 2026-10-15',
    'centerTobin Ash and 1 more, 2026-10-15',
  ]);
});
