import { expect } from '@playwright/test';
import type { Laptop } from './staff';

interface Shown {
  record: { fields: { name: string; values: { id: string; text: string }[] }[] };
}

/** What stands in a field on a laptop. */
export async function valuesOf(laptop: Laptop, record: string, field: string) {
  const { record: shown } = JSON.parse(await laptop.run('show', record, '--json')) as Shown;
  return shown.fields.find((one) => one.name === field)?.values ?? [];
}

/** Writes over what the laptop shows, as somebody at its command line does. */
export async function rewrite(laptop: Laptop, record: string, field: string, text: string) {
  const seen = await valuesOf(laptop, record, field);
  await laptop.run('set', record, `${field}=${text}`, ...seen.flatMap((value) => ['--seen', value.id]));
}

/** Lets two laptops that have heard of each other write a field without hearing of it. Their nodes are restarted. */
export async function writeApart([a, b]: [Laptop, Laptop], record: string, field: string, [first, second]: [string, string]) {
  await Promise.all([a.stop(), b.stop()]);
  await Promise.all([rewrite(a, record, field, first), rewrite(b, record, field, second)]);
  const addresses = await Promise.all([a.start(), b.start()]);
  await b.run('connect', a.links);
  await expect.poll(async () => (await valuesOf(a, record, field)).map((value) => value.text).sort()).toEqual([first, second].sort());
  return addresses;
}

/** Waits until both laptops hold the same. */
export async function alike(a: Laptop, b: Laptop) {
  const state = async (laptop: Laptop) => (JSON.parse(await laptop.run('status', '--json')) as { state_hash: string }).state_hash;
  await expect(async () => expect(await state(a)).toBe(await state(b))).toPass();
}
