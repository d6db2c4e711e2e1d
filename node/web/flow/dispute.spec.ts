import { expect, type Page, test } from '@playwright/test';
import { expectReadable } from './axe';
import { byKeyboard } from './hands';
import { type Laptop, Staff } from './staff';

// What is in conflict besides fields. All names are invented.

let staff: Staff;
let director: Laptop;
let scout: Laptop;
let page: Page;

test.describe.configure({ mode: 'serial' });
test.beforeAll(async ({ browser }) => {
  staff = await Staff.found();
  [director, scout] = [staff.laptop('maro-desk'), staff.laptop('tobrin-road')];
  page = await browser.newPage();
  await page.goto(await director.start());
  await scout.start();
});
test.afterAll(async () => {
  await Promise.all([director.stop(), scout.stop()]);
  await staff.end();
});

async function turnTo(name: RegExp) {
  await page.getByRole('link', { name: /^Conflicts/ }).click();
  const one = page.locator('.pile').getByRole('button', { name });
  const more = page.getByRole('button', { name: 'more arrived: show' });
  await expect(one.or(more).first()).toBeVisible();
  if (await more.isVisible()) await more.click();
  await one.click();
}

const conflictsAbout = async (laptop: Laptop, about: string) => {
  const { conflicts = [] } = JSON.parse(await laptop.run('conflicts', '--json')) as { conflicts?: { about: string }[] };
  return conflicts.filter((one) => one.about === about).length;
};

test('two that were joined by way of a third, and kept apart, are taken apart', async () => {
  const ids: string[] = [];
  for (const name of ['Wendel Oskar', 'Vendel Oskar', 'Wendell Oskare']) {
    ids.push((await director.run('add', 'prospect', `name=${name}`)).trim().split(/\s+/).at(-1) ?? '');
  }
  const [a, b, c] = ids as [string, string, string];
  await director.run('same', a, c, '--apart');
  await director.run('same', a, b);
  await director.run('same', b, c);
  await turnTo(/joined and kept apart/);
  await expect(page.getByText('were said to be two')).toBeVisible();
  await expectReadable(page, 'a torn double');
  await page.keyboard.press('2');
  await expect(page.getByText('✓ saved: they are two')).toBeVisible();
  await expect.poll(() => conflictsAbout(director, 'same')).toBe(0);
});

test('who was retired unread stays, or is retired again', async () => {
  const players = ['Daxel Zeleskil', 'Fenno Daskovick'];
  for (const player of players) {
    await byKeyboard.open(page, player);
    await byKeyboard.write(page, 'Hometown', 'Low Ridge');
    await scout.run('retire', player);
  }
  await scout.run('connect', director.links);
  await turnTo(/Daxel Zeleskil.*retired unread/);
  await expectReadable(page, 'a retirement in dispute');
  await page.keyboard.press('1');
  await expect(page.getByText('✓ saved: it stays')).toBeVisible();
  await turnTo(/Fenno Daskovick.*retired unread/);
  await page.getByRole('button', { name: 'Retire it, as it is now' }).click();
  await expect(page.getByText('✓ saved: it is retired')).toBeVisible();
  await expect.poll(() => conflictsAbout(scout, 'retirement')).toBe(0);
  expect(await scout.run('list', 'prospect')).toContain(players[0]);
  expect(await scout.run('list', 'prospect')).not.toContain(players[1]);
});
