// Opens what a link leads to, goes from unit to unit, and prints one. Without it the same sections open by hand.
{
  const units = document.querySelector(".unit-list");
  const shownUnit = () => units && units.querySelector("details.unit[open]");

  const follow = () => {
    const target = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    let folded = false;
    for (let part = target && target.closest("details"); part; part = part.parentElement.closest("details")) {
      folded ||= !part.open;
      part.open = true;
    }
    if (target && folded) target.scrollIntoView();
    const unit = target && target.closest("details.unit");
    if (unit) unit.firstElementChild.focus({ preventScroll: true });
  };
  window.addEventListener("hashchange", follow);
  if (location.hash) follow();

  const step = (unit, way) => {
    const link = unit.querySelector(`.unit-ways a[rel=${way}]`);
    if (link) link.click();
    return Boolean(link);
  };
  document.addEventListener("keydown", (event) => {
    const way = { ArrowRight: "next", ArrowLeft: "prev" }[event.key];
    if (!way || event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
    const unit = event.target === document.body ? shownUnit() : event.target.closest("details.unit[open]");
    if (!unit || event.target.closest(".table-box")) return;
    if (step(unit, way)) event.preventDefault();
  });

  let from = null;
  const scrolls = (part) => part && part.scrollWidth > part.clientWidth;
  document.addEventListener("touchstart", (event) => {
    const touched = event.target.closest("details.unit[open]");
    const one = event.touches.length === 1 && touched && !scrolls(event.target.closest(".table-box"));
    from = one ? { unit: touched, x: event.touches[0].clientX, y: event.touches[0].clientY } : null;
  }, { passive: true });
  document.addEventListener("touchend", (event) => {
    if (!from) return;
    const across = event.changedTouches[0].clientX - from.x;
    const down = event.changedTouches[0].clientY - from.y;
    if (Math.abs(across) > 70 && Math.abs(down) < Math.abs(across) / 2) step(from.unit, across < 0 ? "next" : "prev");
    from = null;
  }, { passive: true });

  document.addEventListener("click", (event) => {
    if (!event.target.closest(".print-unit")) return;
    const unit = event.target.closest("details.unit");
    unit.classList.add("printed");
    document.body.classList.add("one-unit");
    window.print();
    document.body.classList.remove("one-unit");
    unit.classList.remove("printed");
  });

  // A browser that cannot print what is folded gets it opened, as many units at once as there are.
  window.addEventListener("beforeprint", () => {
    if (CSS.supports("selector(::details-content)")) return;
    for (const part of document.querySelectorAll("details")) {
      part.removeAttribute("name");
      part.open = true;
    }
  });
}
