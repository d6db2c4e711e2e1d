import { screen } from '@testing-library/react';
import { expect, test } from 'vitest';
import { openPage } from '../test/page';
import { keymap, type Place } from './keymap';

test('no key means two things in one place', () => {
  const places: Place[] = ['prospects', 'prospect', 'conflicts', 'doubles'];
  for (const place of places) {
    const keys = Object.values(keymap).flatMap((key) => (key.place === place || key.place === 'everywhere' ? [...key.keys] : []));
    expect(new Set(keys).size, place).toBe(keys.length);
  }
});

test('the sheet has every key', async () => {
  const user = openPage('/laptops', () => undefined);
  await screen.findByRole('heading', { name: 'Laptops' });
  await user.keyboard('?');
  const sheet = await screen.findByRole('dialog', { name: 'Keys' });
  for (const key of Object.values(keymap)) expect(sheet.textContent).toContain(key.does);
  await user.keyboard('{Escape}');
  expect(screen.queryByRole('dialog')).toBeNull();
});
