import { expect, test } from '@playwright/test';
import { expectReadable } from './axe';
import { type Laptop, Staff } from './staff';

// A table of somebody else's making: heads that nobody knows, and a height that is none. All names are invented.
const table = [
  'Whoso,Outfit,Leaves,Spot,Height,Scratch',
  'Wendel Oskar,Low Ridge,2027,guard,6046,ask again',
  'Brannoc Tulle,Wren Hollow,2027,tackle,6049,',
].join('\n');

let staff: Staff;
let director: Laptop;

test.beforeAll(async () => {
  staff = await Staff.found();
  director = staff.laptop('maro-desk');
});
test.afterAll(async () => {
  await director.stop();
  await staff.end();
});

test('columns are given their fields, wrong cells show where they are, and the right rows come in', async ({ browser }) => {
  const page = await browser.newPage();
  await page.goto(await director.start());
  await page.getByRole('link', { name: 'Import' }).click();
  await page.getByLabel('The list’s name').fill('late list');
  await page.getByLabel('File').setInputFiles({ name: 'late.csv', mimeType: 'text/csv', buffer: Buffer.from(table) });
  await expect(page.getByText(/"Whoso" is not known/)).toBeVisible();
  await expectReadable(page, 'columns to be mapped');
  for (const [head, field] of [['Whoso', 'name'], ['Outfit', 'school'], ['Leaves', 'class_year'], ['Spot', 'position']] as const) {
    await page.getByLabel(`Field for the column ${head}`).fill(field);
    await page.keyboard.press('Enter');
  }
  await page.getByLabel('Leave out the column Scratch').check();
  await page.getByLabel('Its numbers are').selectOption('listed');
  const wrong = page.getByRole('cell', { name: /6049/ });
  await expect(wrong).toContainText('✕');
  await expect(page.getByRole('row').filter({ has: wrong })).toContainText('Brannoc Tulle');
  await expectReadable(page, 'a wrong cell');
  await page.getByRole('button', { name: 'Import the rows that are right' }).click();
  await expect(page.getByRole('heading', { name: '✓ Saved' })).toBeVisible();
  expect(await director.run('show', 'Wendel Oskar')).toContain('Low Ridge');
  await page.close();
});
