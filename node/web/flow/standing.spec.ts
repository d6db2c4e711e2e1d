import { join } from 'node:path';
import { expect, type Page, test } from '@playwright/test';
import { expectReadable } from './axe';
import { type Laptop, Staff } from './staff';

// A copy that can only be read, and a laptop that wrote on after it was revoked: on real nodes. All names are invented.

let staff: Staff;
let director: Laptop;
let scout: Laptop;
let other: Laptop;

test.describe.configure({ mode: 'serial' });
test.beforeAll(async () => {
  staff = await Staff.found();
  [director, scout, other] = [staff.laptop('maro-desk'), staff.laptop('tobrin-road'), staff.laptop('elsbet-road')];
});
test.afterAll(async () => {
  await Promise.all([director.stop(), scout.stop(), other.stop(), staff.laptop('copy').stop()]);
  await staff.end();
});

async function openLaptops(page: Page, laptop: Laptop) {
  await page.goto(await laptop.run('open', '--print'));
  await expect(page.getByText(/^live/)).toBeVisible();
  await page.getByRole('link', { name: 'Laptops' }).click();
  await expect(page.getByRole('heading', { level: 1, name: 'Laptops' })).toBeVisible();
}

const shown = (page: Page, part: string) => page.locator(`[data-part=${part}]`).first();

test('a restored copy is read, says what it is, and writes after it joined as a new laptop of its person’s', async ({ browser }) => {
  const copy = staff.laptop('copy');
  const backup = join(staff.folder, 'tobrin.backup');
  await scout.run('backup', backup);
  await copy.run('restore', backup);
  await director.start();
  const [mine, theirs] = [await browser.newPage(), await browser.newPage()];
  await theirs.goto(await copy.start());
  await expect(theirs.getByRole('row').nth(3)).toBeVisible();
  await expect(theirs.getByRole('link', { name: 'read only' })).toBeVisible();
  await theirs.getByRole('link', { name: 'Daxel Zeleskil' }).click();
  await expect(theirs.getByRole('heading', { level: 1, name: 'Daxel Zeleskil' })).toBeVisible();
  await expect(theirs.getByRole('button', { name: 'Change Hometown' })).toHaveCount(0);
  await theirs.keyboard.press('a');
  await theirs.keyboard.press('n');
  await expect(theirs.locator('.said-line')).toContainText('can only be read');
  await theirs.getByRole('link', { name: 'read only' }).click();
  await expect(theirs.getByText(/This is a restored copy/)).toBeVisible();
  await expect(theirs.getByText(/no keys: everything can be read here/)).toBeVisible();
  await expectReadable(theirs, 'a restored copy');

  await openLaptops(mine, director);
  await mine.keyboard.press('i');
  await mine.getByLabel('Whose laptop').fill('Tobrin Askerly');
  await mine.keyboard.press('Enter');
  await theirs.getByLabel('Address').first().fill((await shown(mine, 'address').textContent()) ?? '');
  await theirs.getByLabel('Word').fill((await shown(mine, 'word').textContent()) ?? '');
  await theirs.locator('section', { hasText: 'Join again' }).getByLabel('This laptop’s name').fill('tobrin-new');
  await theirs.getByRole('button', { name: 'Join', exact: true }).click();
  await expect(shown(mine, 'code')).toBeVisible();
  await expect(shown(theirs, 'code')).toBeVisible();
  const [ours, others] = [await shown(mine, 'code').textContent(), await shown(theirs, 'code').textContent()];
  await theirs.getByLabel('The code that the other laptop shows').fill(ours ?? '');
  await theirs.keyboard.press('Enter');
  await mine.getByLabel('The code that the other laptop shows').fill(others ?? '');
  await mine.keyboard.press('Enter');
  await expect(mine.getByText('Tobrin Askerly has joined')).toBeVisible();
  await expect(theirs.getByText(/This is tobrin-new, of Tobrin Askerly/)).toBeVisible();
  await expect(theirs.getByRole('link', { name: 'read only' })).toHaveCount(0);
  await copy.run('set', 'Daxel Zeleskil', 'note=written by the new laptop');
  expect(await copy.run('show', 'Daxel Zeleskil')).toMatch(/written by the new laptop +Tobrin Askerly/);
  await copy.stop();
  await mine.close();
  await theirs.close();
});

test('what a revoked laptop wrote is listed with why, and a director lets it count', async ({ page }) => {
  await scout.stop();
  await director.run('revoke', 'tobrin-road');
  await director.stop();
  // Neither the scout nor the other one has heard of it.
  await scout.start();
  await other.start();
  await scout.run('add', 'prospect', 'name=Wes Tarnowick', 'position=tackle');
  await scout.run('connect', other.links);
  await expect.poll(() => other.run('list', '--search', 'Tarnowick', '--columns', 'name')).toContain('Wes Tarnowick');
  await scout.stop();
  await director.start();
  await other.run('connect', director.links);
  await expect.poll(() => other.run('list', '--search', 'Tarnowick', '--columns', 'name')).not.toContain('Wes Tarnowick');

  await openLaptops(page, director);
  const list = page.getByRole('region', { name: 'What doesn’t count of Tobrin Askerly’s laptop tobrin-road' });
  await expect(list.getByRole('row').filter({ hasText: 'Wes Tarnowick' })).toContainText('Wes Tarnowick, prospect');
  await expect(page.getByText('hadn’t come in when Maro Quellish ended the laptop’s standing')).toBeVisible();
  await page.getByRole('button', { name: 'Let it count' }).click();
  await expect(page.getByRole('alertdialog')).toContainText('the laptop’s standing stays as it is');
  await expectReadable(page, 'letting it count');
  await page.getByRole('alertdialog').getByRole('button', { name: 'Let it count' }).click();
  await expect(page.getByText(/kept that do/)).toHaveCount(0);
  await expect(page.getByRole('row').filter({ hasText: 'tobrin-road' })).toContainText('✕ revoked');
  for (const laptop of [director, other]) {
    await expect.poll(() => laptop.run('list', '--search', 'Tarnowick', '--columns', 'name')).toContain('Wes Tarnowick');
  }
});

test('rights that a revoked director gave are told by name, and come into force only where they are ticked', async ({ page }) => {
  const elsbet = 'Elsbet Crannow';
  await director.run('promote', 'elsbet-road');
  await expect.poll(() => other.run('status')).toContain('(director)');
  await other.stop();
  await director.run('revoke', 'elsbet-road');
  await other.run('add', 'prospect', 'name=Gus Tollick', 'position=guard');
  await other.run('promote', 'tobrin-new');
  await director.admit(other, elsbet);
  await other.start();
  await other.run('connect', director.links);
  await expect.poll(() => director.run('aside')).toContain('Gus Tollick');

  await openLaptops(page, director);
  const roster = page.getByRole('row').filter({ hasText: 'tobrin-new' });
  const list = page.getByRole('region', { name: `What doesn’t count of ${elsbet}’s laptop elsbet-road` });
  await expect(list.getByRole('row').filter({ hasText: /the staff\s*gave/ })).toContainText('gave Tobrin Askerly’s laptop tobrin-new a director’s rights');
  const question = page.getByRole('alertdialog');
  const ask = page.getByRole('button', { name: 'Let it count' });
  await ask.click();
  await expect(question).toContainText('Tobrin Askerly’s laptop tobrin-new gets a director’s rights');
  await expectReadable(page, 'rights that come with it');
  await question.getByRole('button', { name: 'Let it count' }).click();
  await expect(question).toHaveCount(0);
  await expect.poll(() => director.run('list', '--search', 'Tollick', '--columns', 'name')).toContain('Gus Tollick');
  await expect(roster.first().getByRole('cell', { name: 'scout', exact: true })).toBeVisible();

  await ask.click();
  await expect(question).toContainText('Nothing that is listed of it is work');
  await expect(question.getByRole('button', { name: 'Let it count' })).toBeDisabled();
  await question.getByRole('checkbox').check();
  await question.getByRole('button', { name: 'Let it count' }).click();
  await expect(roster.first().getByRole('cell', { name: 'director', exact: true })).toBeVisible();
});
