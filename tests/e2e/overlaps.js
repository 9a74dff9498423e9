// Which words of a page's pictures lie on one another, or reach out of their picture. Music is left out: its
// letters are held by the engraving's own tests.
() => {
  const said = (text) => text.textContent.trim().slice(0, 60);
  // A line's box is higher than its letters; this is about the letters' height.
  const box = (text) => {
    const at = text.getBoundingClientRect();
    const spare = at.height * 0.22;
    return { left: at.left, right: at.right, top: at.top + spare, bottom: at.bottom - spare, said: said(text) };
  };
  const found = [];
  for (const svg of document.querySelectorAll("svg")) {
    const whole = svg.getBoundingClientRect();
    if (svg.parentElement.closest("svg") || !whole.width || !svg.checkVisibility()) continue;
    const boxes = [...svg.querySelectorAll("text")]
      .filter((text) => !text.closest(".music, title, desc") && said(text) && text.checkVisibility())
      .map(box);
    boxes.forEach((one, place) => {
      if (one.left < whole.left - 1 || one.right > whole.right + 1) found.push(`"${one.said}" reaches out of its picture`);
      for (const other of boxes.slice(place + 1)) {
        const wide = Math.min(one.right, other.right) - Math.max(one.left, other.left);
        const high = Math.min(one.bottom, other.bottom) - Math.max(one.top, other.top);
        if (wide > 0.5 && high > 0.5) found.push(`"${one.said}" on "${other.said}"`);
      }
    });
  }
  return found;
};
