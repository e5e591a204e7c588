"""The pages people see, one module a page. Each brings its own list `urls`."""

# A page joins by one line here.
PAGES = (
    "sign_in",
    "home",
    "me",
    "tool_list",
    "tool",
    "match",
    "spec",
    "finishes",
    "press_log",
    "damage",
    "measure",
    "plaques",
    "profile",
    "unfit",
    "studies",
    "agreements",
    "pull_list",
    "bench",
    "vice",
    "work_order",
    "paper",
    "records",
    "standards",
)
