// Looks at the report in the frame: overflow, clipped text, contrast (WCAG 2.2), outside requests.
const frame = document.getElementById('page');

function light([red, green, blue]) {
  const linear = x => (x /= 255) <= 0.03928 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4;
  return 0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue);
}

function contrast(first, second) {
  const [more, less] = [light(first), light(second)].sort((a, b) => b - a);
  return (more + 0.05) / (less + 0.05);
}

const rgb = words => (words.match(/[\d.]+/g) || [0, 0, 0, 0]).map(Number);

frame.onload = () => {
  const doc = frame.contentDocument, look = frame.contentWindow, width = frame.clientWidth;
  const bad = [];
  let lowest = 99, texts = 0;

  function paper(element) {
    for (; element; element = element.parentElement) {
      const colour = rgb(look.getComputedStyle(element).backgroundColor);
      if (colour.length < 4 || colour[3] > 0) return colour;
    }
    return [255, 255, 255];
  }

  function place(rect, element, words) {
    texts++;
    if (rect.left < -0.5 || rect.right > width + 0.5) bad.push('outside the page: ' + words);
    for (let around = element; around && around !== doc.body; around = around.parentElement) {
      const clips = look.getComputedStyle(around).overflowX !== 'visible' || around.tagName === 'svg';
      const box = around.getBoundingClientRect();
      const inside = rect.left > box.left - 1 && rect.right < box.right + 1
        && rect.top > box.top - 1 && rect.bottom < box.bottom + 1;
      if (clips && !inside) bad.push('clipped: ' + words);
    }
  }

  const wide = doc.documentElement.scrollWidth;
  if (wide > width) bad.push('page is ' + wide + ' wide');
  const walker = doc.createTreeWalker(doc.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const element = walker.currentNode.parentElement, words = walker.currentNode.textContent.trim();
    if (!words || ['title', 'desc', 'style'].includes(element.tagName.toLowerCase())) continue;
    const range = doc.createRange();
    range.selectNodeContents(walker.currentNode);
    for (const rect of range.getClientRects()) place(rect, element, words.slice(0, 40));
    const chart = element.closest('svg'), style = look.getComputedStyle(element);
    const back = chart ? rgb(look.getComputedStyle(chart.querySelector('rect')).fill) : paper(element);
    const found = contrast(rgb(chart ? style.fill : style.color), back);
    if (found < 4.5) bad.push('contrast ' + found.toFixed(2) + ': ' + words.slice(0, 40));
    lowest = Math.min(lowest, found);
  }
  for (const image of doc.images) if (!image.complete || !image.naturalWidth) bad.push('picture not shown');
  const asked = look.performance.getEntriesByType('resource').map(entry => entry.name)
    .filter(name => !name.startsWith('data:'));
  document.body.textContent = JSON.stringify({bad, lowest, texts, asked, pictures: doc.images.length});
};
