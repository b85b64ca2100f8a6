// The legend below the photo: what each hatch means, and how much of the chosen wound it is.

function legendOf({ tool, data, chosen, history, wounds }) {
  if (tool.name !== "tissue" || !tool.regions.length) return "";
  const percent = tool.told.percent[chosen.wound] ?? {};
  const there = new Set(tool.regions.filter(({ wound }) => wound === chosen.wound).map(({ tissue }) => tissue));
  const named = ({ tissue }) => there.has(tissue) || Math.round(percent[tissue] ?? 0) > 0; // so that they sum to 100
  const items = data.looks.filter(named).map((look) => {
    const share = percent[look.tissue];
    const words = share === undefined ? look.word : `${look.word} <b>${Math.round(share)} %</b>`;
    return `<li>${swatch(look)}<span>${words}</span></li>`;
  });
  const hand = history.now.taps.length ? "<li><i>&#10003;</i><span>by hand</span></li>" : "";
  const whose = wounds.length > 1 ? `<li><span>Wound ${chosen.wound + 1}:</span></li>` : "";
  return whose + items.join("") + hand;
}

function swatch({ tile }) {
  return `<i class="swatch" aria-hidden="true" style="background-image:url(&quot;${tile}&quot;)"></i>`;
}
