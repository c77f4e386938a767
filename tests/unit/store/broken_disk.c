// SPDX-License-Identifier: MIT
#include "ledger.h"
#include "broken_disk.h"

struct broken_disk broken_disk;

struct file {
	sqlite3_file base;
	bool wal;
	sqlite3_file *real; /* right behind this structure */
};

static sqlite3_vfs *real_vfs;

static sqlite3_file *real_of(sqlite3_file *file)
{
	return ((struct file *)file)->real;
}

static bool fails(void)
{
	struct broken_disk *b = &broken_disk;

	b->calls++;
	if (b->fail_at == 0 || b->calls < b->fail_at || (b->calls > b->fail_at && !b->stays))
		return false;
	b->failed++;
	return true;
}

static int on_close(sqlite3_file *file)
{
	return real_of(file)->pMethods->xClose(real_of(file));
}

static int on_read(sqlite3_file *file, void *to, int n, sqlite3_int64 at)
{
	return real_of(file)->pMethods->xRead(real_of(file), to, n, at);
}

static int on_write(sqlite3_file *file, const void *from, int n, sqlite3_int64 at)
{
	const struct sqlite3_io_methods *real = real_of(file)->pMethods;

	if (((struct file *)file)->wal)
		broken_disk.wal_unsynced = true;
	if (!fails())
		return real->xWrite(real_of(file), from, n, at);
	if (broken_disk.how == BROKEN_FULL)
		return SQLITE_FULL;
	(void)real->xWrite(real_of(file), from, n / 2, at);
	return SQLITE_IOERR_WRITE;
}

static int on_truncate(sqlite3_file *file, sqlite3_int64 size)
{
	return fails() ? SQLITE_IOERR_TRUNCATE : real_of(file)->pMethods->xTruncate(real_of(file), size);
}

static int on_sync(sqlite3_file *file, int flags)
{
	if (fails())
		return SQLITE_IOERR_FSYNC;
	if (((struct file *)file)->wal)
		broken_disk.wal_unsynced = false;
	return broken_disk.fast ? SQLITE_OK : real_of(file)->pMethods->xSync(real_of(file), flags);
}

static int on_size(sqlite3_file *file, sqlite3_int64 *size)
{
	return real_of(file)->pMethods->xFileSize(real_of(file), size);
}

static int on_lock(sqlite3_file *file, int lock)
{
	return real_of(file)->pMethods->xLock(real_of(file), lock);
}

static int on_unlock(sqlite3_file *file, int lock)
{
	return real_of(file)->pMethods->xUnlock(real_of(file), lock);
}

static int on_reserved(sqlite3_file *file, int *out)
{
	return real_of(file)->pMethods->xCheckReservedLock(real_of(file), out);
}

static int on_control(sqlite3_file *file, int op, void *arg)
{
	return real_of(file)->pMethods->xFileControl(real_of(file), op, arg);
}

static int on_sector(sqlite3_file *file)
{
	return real_of(file)->pMethods->xSectorSize(real_of(file));
}

static int on_traits(sqlite3_file *file)
{
	return real_of(file)->pMethods->xDeviceCharacteristics(real_of(file));
}

static int on_shm_map(sqlite3_file *file, int page, int size, int extend, void volatile **map)
{
	if (extend && fails())
		return SQLITE_IOERR_SHMSIZE;
	return real_of(file)->pMethods->xShmMap(real_of(file), page, size, extend, map);
}

static int on_shm_lock(sqlite3_file *file, int offset, int n, int flags)
{
	return real_of(file)->pMethods->xShmLock(real_of(file), offset, n, flags);
}

static void on_shm_barrier(sqlite3_file *file)
{
	real_of(file)->pMethods->xShmBarrier(real_of(file));
}

static int on_shm_unmap(sqlite3_file *file, int remove_it)
{
	return real_of(file)->pMethods->xShmUnmap(real_of(file), remove_it);
}

static const sqlite3_io_methods methods = {
	.iVersion = 2, /* with shared memory, without mmap */
	.xClose = on_close,
	.xRead = on_read,
	.xWrite = on_write,
	.xTruncate = on_truncate,
	.xSync = on_sync,
	.xFileSize = on_size,
	.xLock = on_lock,
	.xUnlock = on_unlock,
	.xCheckReservedLock = on_reserved,
	.xFileControl = on_control,
	.xSectorSize = on_sector,
	.xDeviceCharacteristics = on_traits,
	.xShmMap = on_shm_map,
	.xShmLock = on_shm_lock,
	.xShmBarrier = on_shm_barrier,
	.xShmUnmap = on_shm_unmap,
};

static int on_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *to, int flags, int *ret_flags)
{
	struct file *file = (struct file *)to;
	int rc;

	(void)vfs;
	file->real = (sqlite3_file *)(file + 1);
	file->wal = flags & SQLITE_OPEN_WAL;
	rc = real_vfs->xOpen(real_vfs, name, file->real, flags, ret_flags);
	file->base.pMethods = file->real->pMethods ? &methods : NULL;
	return rc;
}

static int on_delete(sqlite3_vfs *vfs, const char *name, int sync)
{
	(void)vfs;
	return fails() ? SQLITE_IOERR_DELETE : real_vfs->xDelete(real_vfs, name, sync);
}

void broken_disk_install(void)
{
	static sqlite3_vfs vfs;

	if (real_vfs)
		return;
	real_vfs = sqlite3_vfs_find(NULL);
	assert_non_null(real_vfs);
	vfs = *real_vfs; /* its other methods look at no private data of a file */
	vfs.pNext = NULL;
	vfs.zName = "broken-disk";
	vfs.szOsFile = (int)sizeof(struct file) + real_vfs->szOsFile;
	vfs.xOpen = on_open;
	vfs.xDelete = on_delete;
	assert_int_equal(sqlite3_vfs_register(&vfs, 1), SQLITE_OK);
}
