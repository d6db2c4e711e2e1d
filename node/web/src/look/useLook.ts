import { useState } from 'react';

export const looks = ['system', 'light', 'dark'] as const;
export type Look = (typeof looks)[number];

const key = 'plumbline.look';

/** Puts the chosen look on before anything is drawn. */
export function wearLook(look: Look = chosen()): void {
  if (look === 'system') delete document.documentElement.dataset.look;
  else document.documentElement.dataset.look = look;
}

function chosen(): Look {
  const kept = localStorage.getItem(key);
  return looks.find((look) => look === kept) ?? 'system';
}

/** The look, and what changes it to the next one. */
export function useLook(): [Look, () => void] {
  const [look, setLook] = useState(chosen);
  const change = () => {
    const next = looks[(looks.indexOf(look) + 1) % looks.length] ?? 'system';
    localStorage.setItem(key, next);
    wearLook(next);
    setLook(next);
  };
  return [look, change];
}
