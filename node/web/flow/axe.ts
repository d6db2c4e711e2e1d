import { readFileSync } from 'node:fs';
import { expect, type Page } from '@playwright/test';

interface Finding {
  id: string;
  impact: string;
  nodes: { html: string }[];
}

/** axe-core's findings that are serious; it runs beside the page's scripts, which the page's policy doesn't bind. */
export async function serious(page: Page): Promise<string[]> {
  await page.evaluate(readFileSync(new URL(import.meta.resolve('axe-core/axe.min.js')), 'utf8'));
  return page.evaluate(async () => {
    const { axe } = window as unknown as { axe: { run: () => Promise<{ violations: Finding[] }> } };
    const { violations } = await axe.run();
    return violations
      .filter((one) => one.impact === 'serious' || one.impact === 'critical')
      .map((one) => `${one.id}: ${one.nodes.map((node) => node.html).join(' ')}`);
  });
}

/** Looks at what is shown by day and in a dim room, and leaves it by day. */
export async function expectReadable(page: Page, what: string) {
  for (const colorScheme of ['dark', 'light'] as const) {
    await page.emulateMedia({ colorScheme });
    expect(await serious(page), `${what} ${colorScheme}`).toEqual([]);
  }
}
