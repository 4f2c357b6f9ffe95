"""Colours of matplotlib's continuous colour maps, to tell which end of a bar is the low one.

Kept as numbers because loading matplotlib takes longer than decoding a picture. Each map is cut into 17 equal cells; a
cell holds the mean of its colours, rounded to 8 bits. Maps that only repeat another one's colours are left out.
"""

from __future__ import annotations

from base64 import b64decode
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

CELLS = 17

_CELLS = {
    "afmhot": "DgAALAAASgAAaAAAhwgApSUAw0MA4WEA+4AE/54e/7w8/9pa//d5//+X//+1///T///x",
    "autumn": "/wcA/xYA/yUA/zQA/0MA/1IA/2EA/3AA/4AA/48A/54A/60A/7wA/8sA/9oA/+kA//gA",
    "berlin": "jq73aajkR5jHMn2jJmJ+HEdcEy47ERofGQ0KKQ0BPRIBVRoGdC0XlEg0smRV0IF48J+c",
    "binary": "+Pj46enp2tray8vLvLy8ra2tnp6ej4+Pf39/cHBwYWFhUlJSQ0NDNDQ0JSUlFhYWBwcH",
    "Blues": "8ff95vD52uj2z+Hywdntr9Hnm8jgg7vbbK7WWKHORZPHNIS/JXW3GGWsDFagCEeNCDd2",
    "bone": "BgYJExMbISEtLi5AOztSSEhkVVd1YmmCcHuPfY2dip+ql7G3pcPEuNHRzN/f4ezs9fn5",
    "BrBG": "ZDkGhE0Ko2cawIUz06tg5MuN8uG29u3Y8vPw2u7suuXekNPJZbmvOpqRGXx0AmBYAEg9",
    "brg": "DgDxLADTSgC1aACXhwB4pQBawwA84QAe9wQE4R4AwzwApVoAhnkAaJcASrUALNMADvEA",
    "BuGn": "8/r86/f64fP21e/txurjruDVltfHfsy1Z8KjVLmOQ694NJ9iJo9LFoA8BnIwAGAnAE0f",
    "BuPu": "8vj75/H32ujyy9zru9DlrMbfnrnZlKjPjZbGjIK8jG2yilmpiEWfhS+RgheBcQptWANW",
    "bwr": "Dg7/LCz/Skr/aGj/h4f/paX/w8P/4eH/+/f7/+Hh/8PD/6Wl/4aG/2ho/0pK/yws/w4O",
    "cividis": "AChaBTJvIzxuN0ZsRlFsVVttYmZvb3BzfHt4iod4mZJ3qJ5zt6pux7dm18Rc6NJP+eA7",
    "CMRmap": "CAgcGxtYLSaKPyaoVii2eS6aoDR6zzpQ90Mp814U6HwE5poL5rgY5s0/5t9v7e2n+fnj",
    "cool": "B/j/Fun/Jdr/NMv/Q7z/Uq3/YZ7/cI//gH//j3D/nmH/rVL/vEP/yzT/2iX/6Rb/+Af/",
    "coolwarm": "Q1jLVXLfaYrvfaD5krT+p8T+utH4zdns3dvc69PH88aw97SY9Z+A7oZp42tU0ktAviEu",
    "copper": "CQYEGxELLh0SQSkaUzUhZkApeEwwi1g4nmQ/sG9Hw3tO1YdW6JNd+p5l/6ps/7Z0/8J7",
    "cubehelix": "CgQMGBEpGiZCFj9OGFhJKGw8SHgxc3ozoHlKwXpy0oKh0pTMya3owsjzxuDx2PHv8vv3",
    "gist_earth": "BQRbDyN3GUN5I2B8LXh+NYZzPI9hRJdOXaBLfKdTla5YrrRcu65hw6Zu07CR5MW59efm",
    "gist_gray": "BwcHFhYWJSUlNDQ0Q0NDUlJSYWFhcHBwgICAj4+Pnp6era2tvLy8y8vL2tra6enp+Pj4",
    "gist_heat": "CwAAIQAAOAAATgAAZQAAfAAAkgAAqQAAvwQA1h4A7DwA/loA/3kC/5cu/7Vq/9On//Hj",
    "gist_ncar": "ADJAACacAIr/AO/yAPuTGfUSZ90Alf0a2P8h/+cA/78J/10E/w8f7wjht0D77JHx+dj6",
    "gist_rainbow": "/wkM/04A/6AA++0AvP8Aav8AGv8CAP84AP+JAP/aANL/AIH/AC//IwD/dQD/xwD//gDk",
    "gist_stern": "gQcO1hYsiyVKQDRoOEOHUlKlYWHDcHDhgIDzj4+/np5/ra0/vLwPy8s62tpz6ems+Pjl",
    "GnBu": "8vrr5/bh3fLX0+7NyOnDt+O8pdy3kNS9e8zEZsDLUbTRP6PKL5DAHn+3Dm6vCFyfCEmK",
    "gnuplot": "JwAsSwCDYQHJcwLzgwX9kQnjng6rqRZctCAMvy0AyDwA0k8A22YA44EA7J8A9MMA++sA",
    "gnuplot2": "AAAcAABYAACVAADRDQD9OgD/aQD/mAv0xynW9Ee4/2Wa/4N8/6Fe/79A/94h//kU//+n",
    "Grays": "/Pz89fX17Ozs4eHh1tbWycnJurq6qKiolpaWhYWFdXV1ZWVlVVVVQkJCLCwsGhoaCAgI",
    "Greens": "8/rw6/fm4PPb0u3Mw+e8seCqntiZic6HdMR3XLhqRaxeNJ5TJo9IFoA8BnIwAGAnAE0f",
    "hot": "HQAARQAAbAAAlAAAuwAA4wAA/gwA/zMA/1oA/4IA/6kA/9EA//YD//8y//9t//+o///j",
    "hsv": "/yoA/4MA/toAyf8Acf8AG/8DAP9BAP+aAPntALL/AFn/DAz/WQD/sgD/+ADs/wCa/wBB",
    "inferno": "BAMREwoyKgtVRAtoXBJudBtujCNppCxhuzdV0EVF4Vc0720i+IcO/KIL+r8m9d1Q9faJ",
    "jet": "AACgAADkABb/AFH/AI7/AMr+GvvcS/+se/97rP9L3f8a/twA/6QA/2wA/zUA4wUAnwAA",
    "magma": "AwMQEQwwJBFTPRBwVhR9bR6BhSeBnS9/tjd5zkBw409l8mVd+oFf/Z1s/rl//tWX/PCy",
    "managua": "9sFi5KRZ0opQv3NIrF1Blkk8fzc5aCw8WClJTjJgTER8T1mYVnCvXojCZ6HUcbzlfNn3",
    "nipy_spectral": "QQBKfQCUGgCsABjYAH3dAKHFAKqSAKAiALsAAOMASP4A1vYA+tUA/5MA+BAA2QAAzF5e",
    "ocean": "AHUHAF4WAEglADE0ABtDAAZSABNhAClwAECAAFaPAG2eCoStNZq8YrHLkMfavd7p6vT4",
    "Oranges": "//Ll/uvX/uLH/diy/cyc/byC/axp/Z1S/I0893wp8WsW51sL20wDxkECrjkDmjEDiCoE",
    "OrRd": "//Tk/u3T/uXB/dut/dGb/cWP/biB/KNt+41b9npR72dI5U832TYkyh8UuQgFowAAigAA",
    "pink": "Oh8fYj09fE9Pkl5epWtrtnZ2w4WBypmK0KuT1ryc3Muk4tmr6Oaz7e3F8vLX+Pjo/f34",
    "PiYG": "nQhevRl30EWT33mw6p/K9MDf+9jr++ny9vXz7fbg3fHCwuWXo9Rtgr1GZKUwSIwgMXEb",
    "plasma": "HwaOPASbVQKjbACogwanmBSgqyWUvDaGy0d42Fhr5Gpe7nxR9pBE/KU3/bsr+9Ml9O0m",
    "PRGn": "TwxbbiV7hkqVm3Kts5LCyrDV4Mvj7uLu9PTz5fPiz+zKseCsisuJXrBlOJFKGHE0B1Ij",
    "PuBu": "+/P58uz15+Pw2tnqy8/lt8Xgo7zajLLVc6nPV53IOpHBIoO5C3SxBWijBF6TA1B9Aj9k",
    "PuBuGn": "+/L58ujz59/u2tfqy8/lt8XgorzahbLVaKnPUJ3IOZK/IIqpCYOQAnl4AW9hAWBOAU4+",
    "PuOr": "jUMHrFQHyGsM4YUb86VG/cF2/tmn++nR9fPx5ebw0dHmu7bYoJfEg3WuaEqYTyN/OAtc",
    "PuRd": "8/D37Ofy5Nrr28fi07XYzqPPy5HG1Xu73mSv40me5S6M3R900BVcugtPoQNGiQA4cgAn",
    "Purples": "+fj78/H36+rz4uHv19fpyMniurvbrKvRnprIkIzBgn66d2uwbFamYkKcWC6SThuJRAmB",
    "rainbow": "cRb/U0X9NXH4F5nyCbzpJdjfQ+3SYfrEgP+0nvqjvO2Q2th897xn/5lR/3A6/0Qj/xYL",
    "RdBu": "fAcipxYqwjk712NR6Yxv9rGS+9G6++bb9fTz4ezzxd/toMzidbPUSZbEMHu2HV+hDT92",
    "RdGy": "fAcipxYqwjk712NR6Yxv9rGS+9G6/ure/fr57e3t2dnZw8PDp6eniYmJZ2dnRkZGKCgo",
    "RdPu": "//Lu/ufk/dvY/M/K/MG/+6+6+pu0+IKq9mii60+c3jeXyR+NsweBmwF7gwF4awFzVABt",
    "RdYlBu": "sw0m0Con5Ew083BF+pdW/bls/teI/u2j/fzA7fjh1u70t9/sl8ngd67SWo/BQ2ywNkee",
    "RdYlGn": "sw0m0Con5Ew083BF+pdW/blr/teE/u2g/Py36fag0OuFst5yj89naL5jPalZGJFMB3U+",
    "Reds": "//Dp/ubb/trK/ciz/Lac/KOG/JBw+31d+mpL9VQ87z4u4CwmzxwfvRUaqxAWkgoTdQMP",
    "seismic": "AABgAACKAAC1AADfEBD+Skr/h4f/w8P/+PD3/8PD/4aG/0pK/hAQ6AAAygAArAAAjgAA",
    "Spectral": "rRJGzTZN41RK83FH+pdW/blr/teE/u2g/fy48Pmo2/CbuOKhktOkasKmSqKyOoC4Ul+p",
    "spring": "/wf4/xbp/yXa/zTL/0O8/1Kt/2Ge/3CP/4B//49w/55h/61S/7xD/8s0/9ol/+kW//gH",
    "summer": "B4NmFotmJZJmNJpmQ6FmUqlmYbBmcLhmgL9mj8dmns5mrdZmvN1my+Vm2uxm6fRm+Pxm",
    "terrain": "KkasFm7UA5XwALWrEM5sStt1h+eBw/ON9PmV4diJw7J4pYtoiWhal3lztaCc08fE8e3s",
    "turbo": "OCdsQ1G+RnnvPJ78JMPjGuC9OPOTb/1hovw+yu006dQ5+7M2/Iom8V4U2zsIvCACkQwC",
    "twilight": "1tbdsMTOh6rEbI2/YW24XkqoVyeJRBRaNBI6SRNBbxxOkjBQrE5RvnFcyZV507mn3tPU",
    "twilight_shifted": "OBJGTxtzXDibX1yxZX68eJzCmrjIxc/V39jf2cjAzaePxINotl9VoD5QgiVQXBdIOhI6",
    "vanimo": "9Lnu3ZDQxW2zqlGXijp4YydVPRo0JBQeGhUTHB8SJzMVOU4cTWokYIUudaE+kMNbr+qL",
    "viridis": "RgteSCBxRjN/QEWHOVaMMmWOLHSOJoKOIZCMH56IJqyBOrp2VcZnd9FTndk7xeAi7OUc",
    "winter": "AAf7ABb0ACXsADTlAEPdAFLWAGHOAHDHAIC/AI+4AJ6wAK2pALyhAMuaANqSAOmLAPiD",
    "Wistia": "5/xv7fdZ9PJC+uwr/+UZ/9sS/9EM/8cG/70B/7YA/68A/6gA/6IA/poA/pIA/YoA/IMA",
    "YlGn": "/f7b+f3G8vq15PSr1O6hv+WXqtyNkdGDeMZ5XrlsRaxfNJtSJohGFno/Bm05AF0zAE0s",
    "YlGnBu": "+/3Q8/q95/Wy1e6zvua1ndm4fMy8XsHAQrXDMKTCIJPAH3y2IWSrI0+hJDuXHC2CDiJl",
    "YlOrBr": "//3c//nJ//S1/uqh/t+J/tFq/sFO/q07/Zkq9YYf7HIV32EMz1AEuUMDoTgEiS8FcSgG",
    "YlOrRd": "//vC//Ot/+qZ/uCF/tRx/sJd/rBM/Z5E/Ys8/W8z+1Ir8jgk5iAe1REgwwQkqgAmjQAm",
}


@lru_cache(maxsize=1)
def named_maps() -> tuple[tuple[str, ...], NDArray[np.float64]]:
    """Give the maps' names and cells from low to high.

    Returns
    -------
    names : tuple of str
    cells : ndarray, shape (maps, 17, 3)
        0 to 255.
    """
    cells = [np.frombuffer(b64decode(text), np.uint8).reshape(CELLS, 3) for text in _CELLS.values()]
    return tuple(_CELLS), np.array(cells, np.float64)
