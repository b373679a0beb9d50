package site

import "boltward/internal/account"

// list is the whole product: every address, the right it needs, and who
// answers. GET changes nothing; a POST in a drive needs the right to write and
// carries a key that keeps it from being booked twice.
func (s *Site) list() {
	// Doors
	s.get("/", public, s.home)
	s.get("/sign-in", public, s.signIn)
	s.post("/sign-in", public, s.signInNow)
	s.get("/sign-in/link/:token", public, s.signInLink)
	s.post("/sign-in/link/:token", public, s.useSignInLink)
	s.post("/sign-out", signedIn, s.signOut)
	s.get("/drives", signedIn, s.drives)
	s.get("/drives/new", opener, s.start)
	s.post("/drives/new", opener, s.startNow)
	s.get("/drives/:drive", read(account.Drive), s.driveHome)
	s.get("/drives/:drive/", read(account.Drive), s.driveHome)

	// What a label's code opens, and what a scanner types
	s.get("/l/:in/:kind/:number", signedIn, s.label)
	s.get("/drives/:drive/scan", read(account.Drive), s.scan)

	// Needs you
	s.get("/drives/:drive/needs", read(account.Drive), s.needs)

	// Asked for, recipients
	s.get("/drives/:drive/asked", read(account.Drive), s.asked)
	s.get("/drives/:drive/asked/new", write(account.Drive), s.addAsked)
	s.post("/drives/:drive/asked/new", write(account.Drive), s.addAskedNow)
	s.get("/drives/:drive/asked/:line", write(account.Drive), s.changeAsked)
	s.post("/drives/:drive/asked/:line", write(account.Drive), s.changeAskedNow)
	s.post("/drives/:drive/asked/:line/close", write(account.Drive), s.closeAsked)
	s.post("/drives/:drive/asked/:line/reopen", write(account.Drive), s.reopenAsked)
	s.get("/drives/:drive/recipients/new", write(account.Drive), s.addRecipient)
	s.post("/drives/:drive/recipients/new", write(account.Drive), s.addRecipientNow)
	s.get("/drives/:drive/recipients/:recipient", read(account.Drive), s.recipient)
	s.get("/drives/:drive/recipients/:recipient/change", write(account.Drive), s.changeRecipient)
	s.post("/drives/:drive/recipients/:recipient/change", write(account.Drive), s.changeRecipientNow)

	// Fabric
	s.get("/drives/:drive/fabric", read(account.Fabric), s.fabric)
	s.get("/drives/:drive/fabric/shelf.csv", read(account.Fabric), s.shelfFile, long)
	s.get("/drives/:drive/fabric/totals", read(account.Fabric), s.shelfTotals)
	s.get("/drives/:drive/fabric/tag", write(account.Fabric), s.tagLot)
	s.post("/drives/:drive/fabric/tag", write(account.Fabric), s.tagLotNow, body(photoBody))
	s.get("/drives/:drive/fabric/donors.json", write(account.Fabric), s.findDonors, asJSON)
	s.get("/drives/:drive/fabric/measure", write(account.Fabric), s.nextToMeasure)
	s.get("/drives/:drive/fabric/labels", write(account.Fabric), s.labels)
	s.post("/drives/:drive/fabric/labels", write(account.Fabric), s.printLabels)
	s.get("/drives/:drive/fabric/labels/:print", read(account.Fabric), s.labelPrint)
	s.get("/drives/:drive/fabric/labels/:print/labels.pdf", read(account.Fabric), s.labelsFile, long)
	s.post("/drives/:drive/fabric/labels/:print/undo", write(account.Fabric), s.undoLabels)
	s.get("/drives/:drive/fabric/label-papers/new", write(account.Fabric), s.newLabelPaper)
	s.post("/drives/:drive/fabric/label-papers/new", write(account.Fabric), s.addLabelPaper)
	s.get("/drives/:drive/fabric/label-papers/:paper", write(account.Fabric), s.labelPaper)
	s.post("/drives/:drive/fabric/label-papers/:paper", write(account.Fabric), s.changeLabelPaper)
	s.get("/drives/:drive/fabric/label-papers/:paper/trial.pdf", write(account.Fabric), s.labelTrial)
	s.post("/drives/:drive/fabric/label-papers/:paper/away", write(account.Fabric), s.putAwayLabelPaper)
	s.post("/drives/:drive/fabric/label-papers/:paper/back", write(account.Fabric), s.offerLabelPaper)
	s.get("/drives/:drive/fabric/:lot", read(account.Fabric), s.lot)
	s.get("/drives/:drive/fabric/:lot/photo.jpg", read(account.Fabric), s.lotPhoto)
	s.post("/drives/:drive/fabric/:lot/photo", write(account.Fabric), s.setPhoto, body(photoBody))
	s.get("/drives/:drive/fabric/:lot/measure", write(account.Fabric), s.measureLot)
	s.post("/drives/:drive/fabric/:lot/measure", write(account.Fabric), s.measureLotNow)
	s.post("/drives/:drive/fabric/:lot/measure/look", write(account.Fabric), s.lookAtMeasure)
	s.post("/drives/:drive/fabric/:lot/undo", write(account.Fabric), s.undoMeasure)
	s.post("/drives/:drive/fabric/:lot/aside", write(account.Fabric), s.setAside)
	s.post("/drives/:drive/fabric/:lot/back", write(account.Fabric), s.takeBackAside)
	s.get("/drives/:drive/fabric/:lot/change", write(account.Fabric), s.changeLot)
	s.post("/drives/:drive/fabric/:lot/change", write(account.Fabric), s.changeLotNow)
	s.get("/drives/:drive/fabric/:lot/wash", write(account.Fabric), s.washLot)
	s.post("/drives/:drive/fabric/:lot/wash", write(account.Fabric), s.washLotNow)
	s.get("/drives/:drive/fabric/:lot/pieces/:piece", read(account.Fabric), s.piece)
	s.get("/drives/:drive/fabric/:lot/pieces/:piece/:act", write(account.Fabric), s.handle)
	s.post("/drives/:drive/fabric/:lot/pieces/:piece/:act", write(account.Fabric), s.handleNow)
	s.post("/drives/:drive/fabric/:lot/deeds/:deed/undo", write(account.Fabric), s.undoCloth)

	// Plan
	s.get("/drives/:drive/plan", read(account.Plan), s.plans)
	s.post("/drives/:drive/plan", write(account.Plan), s.requestPlan)
	s.get("/drives/:drive/plan/:plan", read(account.Plan), s.plan)
	s.get("/drives/:drive/plan/:plan/progress", read(account.Plan), s.planProgress, asJSON, long)
	s.get("/drives/:drive/plan/:plan/problem.json", read(account.Plan), s.planProblemFile, long)
	s.get("/drives/:drive/plan/:plan/plan.json", read(account.Plan), s.planPlanFile, long)
	s.post("/drives/:drive/plan/:plan/stop", write(account.Plan), s.stopPlan)
	s.post("/drives/:drive/plan/:plan/accept", write(account.Plan), s.acceptPlan, long)
	s.post("/drives/:drive/plan/:plan/drop", write(account.Plan), s.dropPlan)
	s.post("/drives/:drive/plan/:plan/change", write(account.Plan), s.requestChange, long)
	s.get("/drives/:drive/plan/:plan/changes", read(account.Plan), s.planChange)
	s.post("/drives/:drive/plan/:plan/withdraw", write(account.Plan), s.withdrawPlan, long)

	// Cutting
	s.get("/drives/:drive/cutting", read(account.Cutting), s.cutting)
	s.get("/drives/:drive/cutting/print", read(account.Cutting), s.printSheets)
	s.get("/drives/:drive/cutting/:sheet", read(account.Cutting), s.sheet)
	s.post("/drives/:drive/cutting/:sheet/out", write(account.Cutting), s.signOutSheet)
	s.post("/drives/:drive/cutting/:sheet/back", write(account.Cutting), s.putBackSheet)
	s.post("/drives/:drive/cutting/:sheet/cut", write(account.Cutting), s.sheetCut)
	s.post("/drives/:drive/cutting/:sheet/undo", write(account.Cutting), s.undoSheetCut)
	s.post("/drives/:drive/cutting/:sheet/short", write(account.Cutting), s.sheetShort)
	s.post("/drives/:drive/cutting/:sheet/good", write(account.Cutting), s.undoSheetShort)

	// Kits
	s.get("/drives/:drive/kits", read(account.Kits), s.kits)
	s.get("/drives/:drive/kits/hand-out", write(account.Kits), s.handOut)
	s.post("/drives/:drive/kits/hand-out", write(account.Kits), s.handOutNow)
	s.post("/drives/:drive/kits/hand-out/undo", write(account.Kits), s.undoHandOut)
	s.get("/drives/:drive/kits/own", write(account.Kits), s.ownKits)
	s.post("/drives/:drive/kits/own", write(account.Kits), s.ownKitsNow)
	s.post("/drives/:drive/kits/ready", write(account.Kits), s.kitsReady)
	s.get("/drives/:drive/kits/cards", read(account.Kits), s.kitCards)
	s.get("/drives/:drive/kits/:kit", read(account.Kits), s.kit)
	s.get("/drives/:drive/kits/:kit/card", read(account.Kits), s.kitCard)
	s.post("/drives/:drive/kits/:kit/back", write(account.Kits), s.kitBack)
	s.post("/drives/:drive/kits/:kit/undo-back", write(account.Kits), s.kitUndoBack)
	s.post("/drives/:drive/kits/:kit/give", write(account.Kits), s.kitGive)
	s.post("/drives/:drive/kits/:kit/longer", write(account.Kits), s.kitLonger)
	s.post("/drives/:drive/kits/:kit/lost", write(account.Kits), s.kitLost)
	s.post("/drives/:drive/kits/:kit/found", write(account.Kits), s.kitFound)
	s.post("/drives/:drive/kits/:kit/apart", write(account.Kits), s.kitApart)

	// People
	s.get("/drives/:drive/people", read(account.Kits), s.people)
	s.get("/drives/:drive/people/new", write(account.Kits), s.personNew)
	s.post("/drives/:drive/people/new", write(account.Kits), s.personAdd)
	s.get("/drives/:drive/people/:person", read(account.Kits), s.onePerson)
	s.get("/drives/:drive/people/:person/change", write(account.Kits), s.personChange)
	s.post("/drives/:drive/people/:person/change", write(account.Kits), s.personSave)

	// Pillowcases back
	s.get("/drives/:drive/back", read(account.Packing), s.back)
	s.post("/drives/:drive/back/kit", write(account.Kits), s.backKit)
	s.post("/drives/:drive/back/loose", write(account.Packing), s.backLoose)
	s.post("/drives/:drive/back/undo/:step", write(account.Packing), s.backUndo)
	s.get("/drives/:drive/back/check/:asked/:size/:kit/:part", write(account.Packing), s.check)
	s.post("/drives/:drive/back/check/:asked/:size/:kit/:part", write(account.Packing), s.checkNow)
	s.get("/drives/:drive/back/mend/:asked/:size/:kit/:part", write(account.Packing), s.mend)
	s.post("/drives/:drive/back/mend/:asked/:size/:kit/:part/here", write(account.Packing), s.mendHere)
	s.post("/drives/:drive/back/mend/:asked/:size/:kit/:part/send", write(account.Packing), s.mendSend)
	s.get("/drives/:drive/back/promise/:state/:asked/:size/:kit/:part", write(account.Packing), s.promise)
	s.post("/drives/:drive/back/promise/:state/:asked/:size/:kit/:part", write(account.Packing), s.promiseNow)

	// Deliveries
	s.get("/drives/:drive/deliveries", read(account.Packing), s.deliveries)
	s.post("/drives/:drive/deliveries/pack/:recipient", write(account.Packing), s.packBox)
	s.post("/drives/:drive/deliveries/box/:box/unpack", write(account.Packing), s.unpackBox)
	s.post("/drives/:drive/deliveries/send/:recipient", write(account.Packing), s.makeDelivery)
	s.get("/drives/:drive/deliveries/:delivery", read(account.Packing), s.delivery)
	s.post("/drives/:drive/deliveries/:delivery/confirm", write(account.Packing), s.confirmDelivery)
	s.post("/drives/:drive/deliveries/:delivery/not-received", write(account.Packing), s.notReceived)

	// The books
	s.get("/drives/:drive/books", read(account.Books), s.books)
	s.get("/drives/:drive/books/books.xlsx", read(account.Books), s.booksFile, long)
	s.get("/drives/:drive/books/in", write(account.Import), s.bring)
	s.post("/drives/:drive/books/in", write(account.Import), s.bringNow, body(bringBody))
	s.get("/drives/:drive/books/in/:upload", write(account.Import), s.brought, long)
	s.get("/drives/:drive/books/blank/:kind", write(account.Import), s.blankTable)
	s.get("/drives/:drive/books/in/:upload/refused.csv", write(account.Import), s.refusedRows, long)
	s.get("/drives/:drive/books/in/:upload/refused.xlsx", write(account.Import), s.refusedBook, long)
	s.get("/drives/:drive/books/in/:upload/progress", write(account.Import), s.takingProgress, asJSON, long)
	s.post("/drives/:drive/books/in/:upload/match", write(account.Import), s.matchBrought, long)
	s.post("/drives/:drive/books/in/:upload/take", write(account.Import), s.takeBrought, long)
	s.post("/drives/:drive/books/in/:upload/stop", write(account.Import), s.stopTaking)
	s.post("/drives/:drive/books/in/:upload/leave", write(account.Import), s.leaveBrought)

	// Sizes
	s.get("/drives/:drive/sizes", read(account.Drive), s.sizes)
	s.post("/drives/:drive/sizes/ready-made", write(account.Drive), s.takeReadyMade)
	s.get("/drives/:drive/sizes/new", write(account.Drive), s.addSize)
	s.post("/drives/:drive/sizes/new", write(account.Drive), s.addSizeNow)
	s.get("/drives/:drive/sizes/:size", write(account.Drive), s.changeSize)
	s.post("/drives/:drive/sizes/:size", write(account.Drive), s.changeSizeNow)
	s.post("/drives/:drive/sizes/:size/retire", write(account.Drive), s.retireSize)
	s.post("/drives/:drive/sizes/:size/restore", write(account.Drive), s.restoreSize)

	// Settings
	s.get("/drives/:drive/settings", write(account.Drive), s.settings)
	s.post("/drives/:drive/settings", write(account.Drive), s.settingsNow)

	// Files, and whether the program is well
	s.get("/files/:hash/*name", public, s.serveFile)
	s.get("/favicon.ico", public, s.favicon)
	s.get("/healthz", public, s.healthz)
	s.get("/readyz", public, s.readyz)
}
