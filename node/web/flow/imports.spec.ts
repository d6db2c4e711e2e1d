import { mkdtemp, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, type Page, test } from '@playwright/test';
import { expectReadable } from './axe';
import { type Laptop, Staff } from './staff';
import { workbook, zip } from './workbook';

// A table of somebody else's making: heads that nobody knows, and a height that is none. All names are invented.
const table = [
  'Whoso,Outfit,Leaves,Spot,Height,Scratch',
  'Wendel Oskar,Low Ridge,2027,guard,6046,ask again',
  'Brannoc Tulle,Wren Hollow,2027,tackle,6049,',
].join('\n');

let staff: Staff;
let director: Laptop;

test.describe.configure({ mode: 'serial' });
test.beforeAll(async () => {
  staff = await Staff.found();
  director = staff.laptop('maro-desk');
  await director.start();
});
test.afterAll(async () => {
  await director.stop();
  await staff.end();
});

test('columns are given their fields, wrong cells show where they are, and the right rows come in', async ({ browser }) => {
  const page = await browser.newPage({ viewport: { width: 1024, height: 768 } });
  await page.goto(await director.run('open', '--print'));
  await page.getByRole('link', { name: 'Import' }).click();
  await page.getByLabel('The list’s name').fill('late list');
  await page.getByLabel('File').setInputFiles({ name: 'late.csv', mimeType: 'text/csv', buffer: Buffer.from(table) });
  await expect(page.getByRole('alert')).toContainText('5 columns have no place');
  await expect(page.getByRole('alert')).toContainText('give each a field, or leave it out:\n"Whoso"');
  await expectReadable(page, 'columns to be mapped');
  for (const [head, field] of [['Whoso', 'name'], ['Outfit', 'school'], ['Leaves', 'class_year'], ['Spot', 'position']] as const) {
    await page.getByRole('combobox', { name: `Field for the column ${head}` }).fill(field);
    await page.keyboard.press('Enter');
  }
  await page.getByLabel('Leave out the column Scratch').check();
  await page.getByLabel('Its numbers are').selectOption('listed');
  const wrong = page.getByRole('cell', { name: /6049/ });
  await expect(wrong).toContainText('✕');
  await expect(page.getByRole('row').filter({ has: wrong })).toContainText('Brannoc Tulle');
  await expect(wrong).toBeInViewport();
  await expect(page.getByRole('button', { name: 'Import the rows that are right' })).toBeInViewport();
  await expectReadable(page, 'a wrong cell');
  await page.getByRole('button', { name: 'Import the rows that are right' }).click();
  await expect(page.getByRole('heading', { name: '✓ Saved' })).toBeVisible();
  expect(await director.run('show', 'Wendel Oskar')).toContain('Low Ridge');
  await page.close();
});

async function choose(page: Page, name: string, buffer: Buffer) {
  const file = join(await mkdtemp(join(staff.folder, 'tables-')), name);
  await writeFile(file, buffer);
  await page.getByLabel('File').setInputFiles(file);
}

test('a sheet of a workbook is chosen, placed, looked through and brought in', async ({ page }) => {
  const book = workbook({
    Cover: [],
    Class: [
      ['Whoso', 'School', 'Class', 'Arm', 'Jersey'],
      ['Wendel Oskar', 'Low Ridge', 2027, 334, 62],
      ['Ister Vann', 'Wren Hollow', 2027, 339, 71],
    ],
  });
  await page.goto(await director.run('open', '--print'));
  await expect(page.getByText(/^live/)).toBeVisible();
  await page.keyboard.press('g');
  await page.keyboard.press('i');
  await page.getByLabel('The list’s name').fill('late list');
  await choose(page, 'late.xlsx', book);
  await expect(page.getByRole('alert')).toContainText('sheet Cover is empty');
  await page.getByLabel('Sheet').selectOption('Class');
  await expect(page.getByText('1 column without a field')).toBeVisible();
  await page.getByRole('combobox', { name: 'Field for the column Whoso' }).fill('name');
  await page.keyboard.press('Enter');
  await page.getByLabel('Its numbers are').selectOption('verified');
  const wrong = page.getByRole('cell', { name: /339/ });
  await expect(wrong).toContainText('D3:');
  await expect(page.getByRole('row').filter({ has: wrong })).toContainText('Ister Vann');
  await expectReadable(page, 'a wrong cell of a workbook');

  await choose(page, 'late.xlsx', workbook({ Class: [['Whoso', 'School', 'Class', 'Arm', 'Jersey'], ['Wendel Oskar', 'Low Ridge', 2027, 334, 62], ['Ister Vann', 'Wren Hollow', 2027, 335, 71]] })); // prettier-ignore
  await expect(page.getByRole('row', { name: /Wendel Oskar.* jersey — → 62/ })).toBeVisible();
  await expect(page.getByRole('row', { name: /Ister Vann.* new prospect/ })).toBeVisible();
  await expectReadable(page, 'what would change');
  await page.getByRole('button', { name: 'Import the prospects' }).click();
  await expect(page.getByRole('heading', { name: '✓ Saved' })).toBeVisible();
  expect(await director.run('show', 'Ister Vann')).toMatch(/arm +335\b/);
});

/** The hash of all that a laptop shows, as its status says it. */
function stateOf(status: string): string {
  const { state_hash: hash } = JSON.parse(status) as { state_hash: string };
  expect(hash).toMatch(/^\w{20,}$/);
  return hash;
}

test('what is too large, damaged or made to fill the memory is one clear error, and nothing is stored', async ({ page }) => {
  await page.goto(await director.run('open', '--print'));
  await page.getByRole('link', { name: 'Import' }).click();
  const before = await director.run('status', '--json');
  const hostile: [string, Buffer, RegExp][] = [
    ['bomb.xlsx', zip([['_rels/.rels', Buffer.alloc(200 << 20, ' ')]]), /larger than 64 MiB/],
    ['cut.xlsx', workbook({ One: [['name']] }).subarray(0, 300), /damaged/],
    ['noise.csv', Buffer.from([0xff, 0xfe, 0x41, 0x00]), /UTF-16/],
    ['wide.csv', Buffer.from(Array.from({ length: 500 }, (_, i) => `c${i}`).join(',')), /500 columns/],
    ['huge.csv', Buffer.alloc((64 << 20) + 1, 'x'), /larger than 64 MiB/],
  ];
  for (const [name, data, says] of hostile) {
    await choose(page, name, data);
    await expect(page.getByRole('alert'), name).toContainText(says);
    await expect(page.getByRole('alert'), name).toHaveCount(1);
    await expect(page.getByRole('button', { name: /^Import the/ }), name).toHaveCount(0);
  }
  await choose(page, 'good.csv', Buffer.from('name,school,class_year\nPell Arven,Low Ridge,2027\n'));
  await expect(page.getByRole('alert')).toHaveCount(0);
  await expect(page.getByRole('row', { name: /Pell Arven/ })).toBeVisible();
  const after = await director.run('status', '--json');
  expect(stateOf(after)).toBe(stateOf(before));
});

test('a row with the name of somebody who is here is asked about, and a saved list comes back as it was', async ({ page }) => {
  await director.run('add', 'prospect', 'name=Corin Ashby', 'school=Low Ridge', 'class_year=2027', 'position=guard');
  await page.setViewportSize({ width: 1024, height: 768 });
  await page.goto(await director.run('open', '--print'));
  await page.getByRole('link', { name: 'Import' }).click();
  const before = stateOf(await director.run('status', '--json'));
  const table = 'list_id,name,position,school,class_year\n7,Corin Ashby,tackle,Low Ridge,2027\n8,Dell Marrow,edge,Low Ridge,2027\n';
  await choose(page, 'north.csv', Buffer.from(table));
  const asks = page.getByRole('region', { name: 'Rows with the name of a prospect who is here' });
  await expect(asks.getByRole('row', { name: /Corin Ashby, tackle, Low Ridge, 2027/ })).toContainText('Corin Ashby, guard, Low Ridge, 2027');
  await expect(page.getByRole('button', { name: 'Import the prospects' })).toBeDisabled();
  // The question and its answers are in view without a scroll, on a small screen too.
  for (const answer of await asks.getByRole('button').all()) await expect(answer).toBeInViewport();
  await expect(asks.getByRole('heading')).toBeInViewport();
  await expectReadable(page, 'a row with the name of somebody who is here');
  expect(stateOf(await director.run('status', '--json'))).toBe(before);
  await asks.getByRole('button', { name: 'They are the same players' }).click();
  await expect(page.getByRole('row', { name: /Corin Ashby.*list id — → 7/ })).toBeVisible();
  await expect(page.getByRole('row', { name: /Dell Marrow.* new prospect/ })).toBeVisible();
  await expectReadable(page, 'what such rows are');
  await page.getByRole('button', { name: 'Import the prospects' }).click();
  await expect(page.getByRole('heading', { name: '✓ Saved' })).toBeVisible();
  const names = await director.run('export', 'prospect', '--columns', 'name');
  expect(names.match(/Corin Ashby/g)).toHaveLength(1);

  const saved = stateOf(await director.run('status', '--json'));
  await choose(page, 'saved.csv', Buffer.from(await director.run('export', 'prospect')));
  await expect(page.getByRole('heading', { name: /what would change/ })).toBeVisible();
  await expect(asks).toHaveCount(0);
  await page.getByRole('button', { name: 'Import the prospects' }).click();
  await expect(page.getByRole('heading', { name: '✓ Saved' })).toBeVisible();
  expect(stateOf(await director.run('status', '--json'))).toBe(saved);
});
