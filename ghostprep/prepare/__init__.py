"""The main job: joins the rooms in the order in which a clip flows through them."""
