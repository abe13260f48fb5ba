() => {
  const shown = (one) => one.checkVisibility({ opacityProperty: false }) && one.getBoundingClientRect().width > 0;
  const box = (one) => (one.matches("input[type=file]") ? one.parentElement : one).getBoundingClientRect();
  const controls = [...document.querySelectorAll("button, input, a[href], audio, select")].filter(shown).map((one) => ({
    what: one.outerHTML.slice(0, 120),
    name: (one.getAttribute("aria-label") || one.textContent || (one.labels && one.labels[0] && one.labels[0].textContent) || "").trim(),
    width: box(one).width, height: box(one).height,
  }));
  const paint = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
  const rgb = (colour) => { paint.clearRect(0, 0, 1, 1); paint.fillStyle = colour; paint.fillRect(0, 0, 1, 1); return [...paint.getImageData(0, 0, 1, 1).data]; };
  const ground = (one) => { for (let at = one; at; at = at.parentElement) { const found = rgb(getComputedStyle(at).backgroundColor); if (found[3] === 255) return found; } return [255, 255, 255, 255]; };
  const texts = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const one = walk.currentNode.parentElement;
    if (!walk.currentNode.textContent.trim() || !shown(one)) continue;
    const style = getComputedStyle(one);
    texts.push({ text: walk.currentNode.textContent.trim().slice(0, 40), ink: rgb(style.color), ground: ground(one), size: parseFloat(style.fontSize), bold: parseInt(style.fontWeight) >= 700 });
  }
  return { controls, texts, wide: document.documentElement.scrollWidth - innerWidth, lang: document.documentElement.lang,
    cut: [...document.querySelectorAll("button")].filter(shown).filter((one) => one.scrollWidth > one.clientWidth + 1).map((one) => one.textContent) };
}
