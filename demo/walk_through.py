# %% [markdown]
# # From field records to a decision, step by step
#
# The records are invented: three lakes of the Brackenfold watershed, netted for carp in 2025.
# Run it cell by cell in an editor that knows `# %%`, or as a whole: `python demo/walk_through.py`.

# %%
"""From field records to a decision, step by step."""

from pathlib import Path

import arviz as az

import fishdown
from fishdown import figures
from fishdown.demo import demo_folder

# %% [markdown]
# ## The records
# Reading checks everything at once: an error lists every problem with file, row and remedy.

# %%
campaign = fishdown.read(demo_folder() / "watershed")
print(campaign)
print(campaign.seasons[["marked", "gone"]].to_dataframe())

# %% [markdown]
# ## The fit
# Some seconds, the first time; afterwards the saved fit is read again.

# %%
RESULTS = Path("demo") / "out" / "walk_through"
if RESULTS.is_dir():
    fit = fishdown.load(RESULTS)
else:
    fit = fishdown.fit(campaign, model="pooled_lakes")
    fit.save(RESULTS)
print(fit)

# %% [markdown]
# ## The answer
# One sentence a lake. The number stands beside the word, the interval beside the number; where a
# check failed the sentence says so instead.

# %%
verdicts = fit.verdicts()
for statement in verdicts.loc[verdicts["when"] == "after", "statement"]:
    print(statement)

# %% [markdown]
# ## Whether to believe it
# Mark–recapture and depletion estimate abundance independently. Each alone, and jointly:

# %%
print(fit.evidence().round(2).to_string(index=False))
print(figures.describe(fit, "convergence"))

# %% [markdown]
# Beside marks and catches the crew kept fish in pens, looked at some fish twice for marks, checked
# some for two marks, listened for tags, used other gear, and wrote down fish that came and went.
# What each of these says by itself:

# %%
told = fit.sources()[["lake", "evidence", "amount", "estimate", "low", "high"]]
print(told.round(3).to_string(index=False))

# %% [markdown]
# ArviZ works on `fit.tree` directly: leave-one-out cross-validation, and every catch in the
# interval that the model predicts for it from the pulls before.

# %%
print(az.loo(fit.tree))
predicted = az.plot_ppc_interval(fit.tree, var_names="caught")
predicted.savefig(RESULTS / "predicted_catches.png")

# %% [markdown]
# ## Effort, bycatch, and the additional removal needed

# %%
print(fit.effort().to_string(index=False))
print(fit.bycatch().round(2).to_string(index=False))
whole = dict.fromkeys(("fish", "fish_mc_error", "kg", "kg_mc_error"), 0)
print(fit.removals().round(whole).to_string(index=False))

# %% [markdown]
# ## A number of your own
# Every draw is there, labelled and with units. How many fish would have to go from all three lakes
# together, to have each of them at 100 kg/ha?

# %%
draws = fit.quantities
surplus = (draws["abundance_after"] * (1 - 100 / draws["biomass_after"])).clip(min=0).sum("season")
low, median, high = surplus.quantile([0.05, 0.5, 0.95]).values
print(f"{median:,.0f} fish (90 % interval {low:,.0f} to {high:,.0f})")

# %% [markdown]
# ## Figures and the page
# Each figure can be described in words, from the same numbers.

# %%
for name, figure in fit.figures(only=["biomass", "abundance", "cooling"]).items():
    figure.savefig(RESULTS / f"{name}.png")
    print(figures.describe(fit, name))
print("Open in a browser:", fit.report(RESULTS))
