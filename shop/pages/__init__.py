"""The pages people see, one module a page. Each brings its own list `urls`."""

# A page joins by one line here.
PAGES = (
    "sign_in",
    "home",
    "me",
    "tool_list",
    "tool",
    "spec",
    "finishes",
    "press_log",
    "damage",
    "measure",
    "plaques",
    "unfit",
    "pull_list",
    "bench",
    "vice",
    "work_order",
    "paper",
)
