"""Sorting tables by their heads; the page says all it has to say without it."""

SCRIPT = """
(function () {
  "use strict";
  function value(row, column) {
    var cell = row.cells[column], number = cell.getAttribute("data-v");
    return number === null ? cell.textContent.trim() : Number(number);
  }
  function compare(one, other) {
    if (one === "" || other === "") { return (one === "") - (other === ""); }
    if (typeof one === "number" && typeof other === "number") { return one - other; }
    return String(one).localeCompare(String(other), undefined, { numeric: true });
  }
  function sort(table, column, down) {
    var body = table.tBodies[0], rows = Array.prototype.slice.call(body.rows);
    rows.map(function (row, place) { return { row: row, value: value(row, column), place: place }; })
      .sort(function (one, other) {
        var blank = (one.value === "") - (other.value === "");
        var found = compare(one.value, other.value);
        return blank || (down ? -found : found) || one.place - other.place;
      })
      .forEach(function (entry) { body.appendChild(entry.row); });
  }
  Array.prototype.forEach.call(document.querySelectorAll("table.sortable"), function (table) {
    var heads = table.tHead.rows[0].cells;
    Array.prototype.forEach.call(heads, function (head, column) {
      var button = document.createElement("button");
      button.type = "button";
      while (head.firstChild) { button.appendChild(head.firstChild); }
      head.appendChild(button);
      button.addEventListener("click", function () {
        var down = head.getAttribute("aria-sort") === "ascending";
        Array.prototype.forEach.call(heads, function (one) { one.removeAttribute("aria-sort"); });
        head.setAttribute("aria-sort", down ? "descending" : "ascending");
        sort(table, column, down);
      });
    });
  });
}());
"""
