import { chmod, readFile, stat, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { expect, type Page, test } from '@playwright/test';
import { expectReadable } from './axe';
import { byKeyboard } from './hands';
import { type Laptop, Staff, typing } from './staff';

// How a browser is let in and let out, and what the page says when it isn't in. All names are invented.

const player = 'Daxel Zeleskil';

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

const isLive = (page: Page) => expect(page.getByText(/^live/)).toBeVisible();
const says = (page: Page, head: string) => expect(page.getByRole('heading', { name: head, exact: true })).toBeVisible();

test('an address opens once; who comes late is told what to type, and a closed page goes on by itself', async ({ browser }) => {
  const address = await director.run('open', '--print');
  const context = await browser.newContext();
  const early = await context.newPage();
  await early.goto(director.api);
  await says(early, 'This browser isn’t let in');
  await expectReadable(early, 'a browser that was never let in');
  const late = await context.newPage();
  await late.goto(address);
  await isLive(late);
  expect(new URL(late.url()).href).toBe(`${director.api}/`);
  await isLive(early);
  await context.close();

  const thief = await browser.newPage();
  await thief.goto(address);
  await says(thief, 'This address doesn’t open any more');
  await expect(thief.getByText('plumbline open', { exact: true })).toBeVisible();
  await expect(thief.getByText('plumbline open --alone')).toBeVisible();
  await expectReadable(thief, 'an address that was used');
  await thief.close();
});

test('an address of the last start doesn’t open, and what the page says to type does', async ({ browser }) => {
  const old = await director.run('open', '--print');
  await director.stop();
  await director.start();
  const context = await browser.newContext();
  const page = await context.newPage();
  await page.goto(old);
  await says(page, 'This address doesn’t open any more');
  const typed = (await page.locator('code', { hasText: '--print' }).textContent()) ?? '';
  expect(typed).toBe('plumbline open --print');
  const another = await context.newPage();
  await another.goto(await director.run(...typed.split(' ').slice(1)));
  await isLive(page);
  await context.close();
});

test('a session that ends closes the open page at once, keeps what was typed, and goes on when it is let in again', async ({ browser }) => {
  const context = await browser.newContext();
  const page = await context.newPage();
  await page.goto(await director.run('open', '--print'));
  await isLive(page);
  await byKeyboard.open(page, player);
  await page.getByRole('button', { name: 'Change Hometown' }).press('Enter');
  await expect(typing(page)).toBeVisible();
  await page.keyboard.type('Low Ri');
  const idle = await context.newPage();
  await idle.goto(director.api);
  await isLive(idle);

  const address = await director.run('open', '--alone', '--print');
  await says(page, 'This browser isn’t let in any more');
  await says(idle, 'This browser isn’t let in any more');
  await expect(page.getByText(player)).toHaveCount(0);
  await expectReadable(page, 'a session that ended');

  const another = await context.newPage();
  await another.goto(address);
  await says(page, player);
  await page.getByRole('button', { name: 'Change Hometown' }).press('Enter');
  await expect(typing(page)).toHaveValue('Low Ri');
  await isLive(idle);
  await context.close();
});

// Every user of the machine may read the command lines of all programs (proc(5), /proc/PID/cmdline): with the address itself
// given to the browser, the token stands among them.
test('opening the page shows its token to nobody else on the machine', async ({ browser }) => {
  const given = join(staff.folder, 'given');
  const recorder = join(staff.folder, 'browser');
  await writeFile(recorder, `#!/bin/sh\ncat /proc/[0-9]*/cmdline | tr '\\0' ' ' >'${given}.all' 2>/dev/null\necho "$@" >'${given}'\n`);
  await chmod(recorder, 0o755);
  await director.stop();
  await director.start(recorder);
  await expect.poll(() => readFile(given, 'utf8').catch(() => '')).not.toBe('');
  const file = (await readFile(given, 'utf8')).trim();
  const token = /#launch=([0-9a-f]{64})/.exec(await readFile(file, 'utf8'))?.[1] ?? 'none';
  const lines = await readFile(`${given}.all`, 'utf8');
  expect(lines).toContain(file);
  expect(lines).not.toContain(token);
  expect((await stat(file)).mode & 0o777).toBe(0o600);
  expect((await stat(join(file, '..'))).mode & 0o077).toBe(0);

  const page = await browser.newPage();
  await page.goto(pathToFileURL(file).href);
  await isLive(page);
  expect(page.url()).toBe(`${director.api}/`);
  await page.close();
});
