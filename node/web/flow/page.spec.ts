import { expect, type Page, test } from '@playwright/test';
import { type Laptop, Staff, typing } from './staff';

let staff: Staff;
let director: Laptop;
let scout: Laptop;
let directorsPage: string;
let scoutsPage: string;

test.describe.configure({ mode: 'serial' });
test.beforeAll(async () => {
  staff = await Staff.found();
  director = staff.laptop('maro-desk');
  scout = staff.laptop('tobrin-road');
  [directorsPage, scoutsPage] = await Promise.all([director.start(), scout.start()]);
  await scout.run('connect', director.links);
});
test.afterAll(async () => {
  await Promise.all([director.stop(), scout.stop()]);
  await staff.end();
});

/** Fails the test for what the page's own rules forbid: a script, style or call that the policy refused. */
function watchPolicy(page: Page): string[] {
  const refused: string[] = [];
  page.on('console', (message) => {
    if (message.text().includes('Content Security Policy')) refused.push(message.text());
  });
  page.on('pageerror', (error) => refused.push(error.message));
  return refused;
}

test('a conflict is settled by keyboard alone, and the other laptop’s open page shows it', async ({ browser }) => {
  const mine = await browser.newPage();
  const theirs = await browser.newPage();
  const refused = [watchPolicy(mine), watchPolicy(theirs)];
  await mine.goto(directorsPage);
  await theirs.goto(scoutsPage);
  for (const page of [mine, theirs]) await expect(page.getByText('live, 1 in reach')).toBeVisible();
  expect(mine.url()).not.toContain('launch');

  await theirs.keyboard.press('/');
  await expect(typing(theirs)).toBeVisible();
  await theirs.keyboard.type('Ulveskil');
  await expect(theirs.getByRole('row')).toHaveCount(2);
  await theirs.keyboard.press('Enter');
  await theirs.keyboard.press('Enter');
  await expect(theirs.getByRole('heading', { name: 'Caspin Ulveskil' })).toBeVisible();
  await expect(theirs.getByText('≠ 2 values')).toBeVisible();

  await mine.keyboard.press('g');
  await mine.keyboard.press('c');
  await expect(mine.getByText(/of \d+ to settle/)).toBeVisible();
  const his = mine.getByRole('heading', { level: 2, name: 'Caspin Ulveskil' });
  await expect(async () => {
    if (!(await his.isVisible())) await mine.keyboard.press('j');
    await expect(his).toBeVisible({ timeout: 500 });
  }).toPass();
  await expect(mine.getByText('Hometown stands there in 2 ways')).toBeVisible();
  await mine.keyboard.press('1');
  await expect(mine.getByText(/saved: \w+mere/)).toBeVisible();

  await expect(theirs.getByText('≠ 2 values')).toHaveCount(0); // no reload
  await expect(theirs.getByText(/^Maro Quellish/).first()).toBeVisible();
  expect(refused).toEqual([[], []]);
  await mine.close();
  await theirs.close();
});

test('half of an edit outlives a killed node and a reload, and is saved then', async ({ browser }) => {
  const page = await browser.newPage();
  await page.goto(await director.run('open', '--print'));
  await page.getByRole('link', { name: 'Daxel Zeleskil' }).click();
  await expect(page.getByRole('heading', { name: 'Daxel Zeleskil' })).toBeVisible();
  await page.getByRole('button', { name: 'Change Hometown' }).press('Enter');
  await expect(typing(page)).toBeVisible();
  await page.keyboard.type('Low Ri');
  await director.stop('SIGKILL');
  await page.keyboard.type('dge');
  await page.keyboard.press('Enter');
  await expect(page.getByText('Not saved')).toBeVisible();
  await director.start();
  await page.reload();
  await page.getByRole('button', { name: 'Change Hometown' }).press('Enter');
  await expect(page.getByRole('combobox', { name: 'Hometown' }).or(page.getByRole('textbox', { name: 'Hometown' }))).toHaveValue('Low Ridge');
  await page.keyboard.press('Enter');
  await expect(page.getByText('✓ saved')).toBeVisible();
  await expect(page.getByText('Low Ridge')).toBeVisible();
  expect(await director.run('show', 'Daxel Zeleskil')).toContain('Low Ridge');
  await page.close();
});
