for (const choice of document.querySelectorAll("select[data-of]")) {
  const figures = [...document.querySelectorAll(`#${choice.dataset.of} figure`)];
  const show = () => figures.forEach((figure) => { figure.hidden = figure.id !== choice.value; });
  choice.addEventListener("change", show);
  choice.closest("p").hidden = false;
  show();
}
