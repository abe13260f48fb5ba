// The texts of the page, from the catalogue of the computer; kept by the browser with the files of the page.

let all = {};
let spoken = document.documentElement.lang;

export async function learn() {
  const version = document.documentElement.dataset.version;
  all = await (await fetch(`/site/${version}/texts.json`)).json();
}

export const language = () => spoken;

export function speak(wanted) {
  if (!(wanted in all)) return;
  spoken = wanted;
  document.documentElement.lang = wanted;
  for (const one of document.querySelectorAll("[data-text]")) one.textContent = say(one.dataset.text);
  for (const one of document.querySelectorAll("[data-label]")) one.setAttribute("aria-label", say(one.dataset.label));
}

export function say(key, values = {}) {
  const text = (all[spoken] || {})[key] || "";
  return text.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? String(values[name]) : whole));
}
