document.getElementById("page").textContent="hello";
