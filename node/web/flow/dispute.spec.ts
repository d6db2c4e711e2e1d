import { expect, type Page, test } from '@playwright/test';
import { expectReadable } from './axe';
import { byKeyboard } from './hands';
import { type Laptop, Staff } from './staff';
import { alike, rewrite } from './writing';

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
  await expect(page.getByText(/^live/)).toBeVisible();
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
  await expect(page.getByText(/^Tobrin Askerly \([-\d]+ [\d:]+\) retired it without having read everything/)).toBeVisible();
  await expect(page.getByLabel('What hadn’t been read')).toContainText('hometown: Low Ridge');
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

test('what comes in between the question and the press is shown, and not retired with the rest', async () => {
  await director.run('add', 'prospect', 'name=Rusk Oldane');
  await alike(director, scout);
  await byKeyboard.open(page, 'Rusk Oldane');
  await page.keyboard.press('x');
  await expect(page.getByRole('button', { name: 'Retire it' })).toBeEnabled();
  await rewrite(scout, 'Rusk Oldane', 'school', 'Mill Fork');
  const dialog = page.getByRole('alertdialog');
  await expect(dialog.getByLabel('What just arrived')).toContainText('school: Mill Fork');
  await expectReadable(page, 'what arrived while one was asked');
  await dialog.getByRole('button', { name: 'I have read it' }).click();
  await dialog.getByRole('button', { name: 'Retire it' }).click();
  await expect(dialog).toHaveCount(0);
  await expect.poll(() => scout.run('list', 'prospect')).not.toContain('Rusk Oldane');

  // The page hears nothing, as in the moment before a press: what it retires is what it shows.
  await director.run('add', 'prospect', 'name=Hale Umberg');
  await alike(director, scout);
  await byKeyboard.open(page, 'Hale Umberg');
  await page.keyboard.press('x');
  await expect(page.getByRole('button', { name: 'Retire it' })).toBeEnabled();
  await page.evaluate(() => document.dispatchEvent(new Event('freeze')));
  await rewrite(scout, 'Hale Umberg', 'school', 'Mill Fork');
  await alike(director, scout);
  await dialog.getByRole('button', { name: 'Retire it' }).click();
  await expect(dialog).toContainText('It stays in sight, since this had just arrived');
  await expect(dialog.getByLabel('What just arrived')).toContainText('school: Mill Fork');
  expect(await scout.run('list', 'prospect')).toContain('Hale Umberg');
  await dialog.getByRole('button', { name: 'No, leave it' }).click();
  await page.evaluate(() => document.dispatchEvent(new Event('resume')));
  await turnTo(/Hale Umberg.*retired unread/);
  await page.keyboard.press('2');
  await expect(page.getByText('✓ saved: it is retired')).toBeVisible();
  await expect.poll(() => scout.run('list', 'prospect')).not.toContain('Hale Umberg');
});
