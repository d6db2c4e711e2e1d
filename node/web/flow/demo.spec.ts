import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { expect, type Page, test } from '@playwright/test';
import { line, value } from './hands';

// The demonstration's story, followed on its pages: values arrive, conflicts appear, one is settled, and the scouts' pages
// agree. All names are invented.

test('the story of the demonstration can be followed and taken part in on its pages', async ({ page, browser }) => {
  const told = new Story();
  try {
    await page.goto(await told.page('maro-desk'));
    const alone = await listed(page);
    expect(alone).toBeGreaterThan(0);
    told.enter();

    const road = await browser.newPage();
    await road.goto(await told.page('tobrin-road'));
    // Nobody reloads: the rows wait until the reader lets them in.
    await page.getByRole('button', { name: /arrived/ }).click();
    expect(await listed(page)).toBeGreaterThan(alone);
    expect(await listed(road)).toBe(await listed(page));

    await page.getByRole('link', { name: /Conflicts/ }).click();
    await page.getByRole('button', { name: /Kestrin Yarundry/ }).click();
    await page.getByRole('button', { name: /24 Tobrin/ }).click();
    await road.getByRole('searchbox').fill('Kestrin Yarundry');
    await road.getByRole('link', { name: 'Kestrin Yarundry' }).click();
    await expect(value(road, 'Jersey')).toHaveText('24');
    await expect(line(road, 'Jersey')).toContainText('Maro Quellish');
    told.enter();
    await told.line(/You decided the jersey of Kestrin Yarundry; all three laptops agree/);
    await told.line(/spelt Alvery Hargorrow/);
    await expect(road.getByText(/^live/)).toBeVisible();
  } finally {
    await told.end();
  }
});

const listed = async (page: Page) => {
  const tally = page.getByText(/^\d+ prospects$/);
  await expect(tally).toBeVisible();
  return Number.parseInt((await tally.textContent()) ?? '', 10);
};

/** The demonstration as it tells itself at a terminal. */
class Story {
  private readonly process: ChildProcess;
  private readonly said: string[] = [];
  private more = () => {};

  constructor() {
    this.process = spawn(process.env.PLUMBLINE ?? '', ['demo', '--stops', '--once'], { stdio: ['pipe', 'pipe', 'inherit'] });
    if (!this.process.stdout) throw new Error('it says nothing');
    createInterface(this.process.stdout).on('line', (line) => {
      this.said.push(line);
      this.more();
    });
  }

  /** Waits until a line is said. */
  async line(pattern: RegExp): Promise<string> {
    for (;;) {
      const found = this.said.find((line) => pattern.test(line));
      if (found !== undefined) return found;
      await new Promise<void>((resolve) => {
        this.more = resolve;
      });
    }
  }

  async page(laptop: string): Promise<string> {
    return (await this.line(new RegExp(`${laptop} +http`))).replace(/.*(http\S+).*/, '$1');
  }

  enter() {
    this.process.stdin?.write('\n');
  }

  async end() {
    this.process.kill('SIGTERM');
    if (this.process.exitCode === null) await once(this.process, 'exit');
  }
}
